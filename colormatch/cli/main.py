"""The program's entry: commands found by name, loaded when called."""

from __future__ import annotations

import os
import sys
from importlib import import_module

import click

from colormatch import __version__
from colormatch.cli.status import Status
from colormatch.errors import ColormatchError

COMMANDS = ("demo", "plan", "target", "transfer", "check", "match", "merge", "history")


class Commands(click.Group):
    """Loads each command's module only when it is wanted."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Name the commands in the order of use."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002
        """Load one command."""
        if cmd_name not in COMMANDS:
            return None
        command: click.Command = import_module(f"colormatch.cli.{cmd_name}").command
        return command


@click.group(cls=Commands, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="colormatch")
def program() -> None:
    """Bring the tiles of a painting, scanned beside a printed strip, to one true colour.

    Print the strip (target), have it measured or carry values over to it
    (transfer), lay it beside every tile, scan, ask whether the
    scans can be used (check), write them in one colour (match) or join them to
    one picture (merge). Try it all on an invented painting first (demo).

    Exit status: 0 done and within the tolerance, 1 an input could not be
    processed or a file not written, 2 wrong usage, 3 a measured difference is
    above the tolerance.
    """


def main() -> None:
    """Run the program; whatever goes wrong ends in one sentence."""
    # Our threads keep all cores busy: those of numpy's matrix products would wait for
    # each other, for longer than the products take. Read when numpy is first imported.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        # A terminal that cannot show ΔE shows a stand-in instead of failing.
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace")
    sys.exit(run(sys.argv[1:]))


def run(arguments: list[str]) -> int:
    """Run the program on arguments and give its exit status."""
    try:
        result = program.main(args=arguments, prog_name="colormatch", standalone_mode=False)
    except click.exceptions.Exit as stop:
        return stop.exit_code
    except click.ClickException as error:
        error.show()
        return error.exit_code
    except (KeyboardInterrupt, click.Abort):
        return said("stopped; nothing was left half written")
    except ColormatchError as error:
        return said(str(error))
    except BrokenPipeError:
        # Whoever read the output, such as a pager, has gone: not an error.
        sys.stderr.close()
        return Status.DONE
    except MemoryError:
        return said("not enough memory for this picture: close other programs or scan smaller")
    except OSError as error:
        return said(f"{error.filename or 'a file'}: {error.strerror or error}")
    except Exception as error:
        # The last line of defence: no traceback reaches a user.
        if os.environ.get("COLORMATCH_TRACEBACK"):
            raise
        return said(
            f"something went wrong inside the program ({type(error).__name__}: {error}); nothing "
            "was left half written; please report it, with what COLORMATCH_TRACEBACK=1 prints"
        )
    return result if isinstance(result, int) else Status.DONE


def said(sentence: str) -> int:
    """Say what went wrong on stderr."""
    click.echo(f"colormatch: {sentence}", err=True)
    return Status.FAILED
