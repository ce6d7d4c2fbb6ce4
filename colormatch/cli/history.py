"""``colormatch history``: what a studio's log says over time."""

from __future__ import annotations

from pathlib import Path

import click

from colormatch.cli import options
from colormatch.cli.status import Status


@click.command("history", short_help="Tell from a log what fades and what ages.")
@click.argument("log", type=click.Path(path_type=Path), metavar="FILE")
@click.option("--scanner", default="", metavar="NAME", help="Show this scanner only.")
@click.option("--strip", default="", metavar="NAME", help="Show this strip only.")
@click.option(
    "--since",
    default="",
    metavar="DATE",
    help="Count scans from this day, month or year on: 2026-03-01, 2026-03, 2026.",
)
@click.option(
    "--plot",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Also draw it: a new file that ends with .svg or .png.",
)
@options.as_json
def command(
    log: Path, scanner: str, strip: str, since: str, plot: Path | None, as_json: bool
) -> int:
    """Tell from a log (--log of check, match and merge) what changed over time.

    A strip that fades and a lamp that ages are told apart where the log allows it;
    where it does not, that is said, and what to scan so that it can be told.
    """
    from colormatch.job.history import HistoryOptions, history

    report = history(HistoryOptions(log=log, scanner=scanner, strip=strip, since=since, plot=plot))
    if as_json:
        from colormatch.reporting.history_json import json_history

        click.echo(json_history(report))
    else:
        from colormatch.reporting.history_text import text_history

        click.echo(text_history(report))
    return Status.DONE
