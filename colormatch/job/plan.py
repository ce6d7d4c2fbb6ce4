"""Plan: how many tiles, how they lie, and what they cost, before the first scan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

from colormatch.errors import InputError
from colormatch.files.whole import written_whole
from colormatch.job.folders import refuse_existing
from colormatch.planning.advice import assumed_of, cautions_of, hangs_over, laying_of
from colormatch.planning.arranging import arrange
from colormatch.planning.figures import (
    PACKED,
    SECONDS_PER_LAYING,
    prints_of,
    sizes_of,
    times_of,
)
from colormatch.plans import Alternative, PlanReport, Size, TileGrid, Wish

LARGER = {"A3": (297.0, 420.0), "A2": (420.0, 594.0)}
"""Glasses that may help, ISO 216, mm."""


def plan(wish: Wish, *, out: Path | None = None) -> PlanReport:
    """Plan the scans of a painting; draw the plan if a file is named.

    Parameters
    ----------
    wish : Wish
        Painting, glass and what is asked of the scans.
    out : Path or None
        A drawing to write, ``.svg`` or ``.png``.

    Raises
    ------
    InputError
        If it cannot be done; the message says the way out.
    OutputError
        If the drawing exists already or cannot be written.
    """
    if out is not None:
        from colormatch.reporting.shapes import refuse_ending

        refuse_ending(out.suffix)
        refuse_existing([out], force=False)
    strips = strip_sizes()
    grid = arrange(wish, strips)
    problem, alternatives = bare_tiles(grid, strips)
    report = PlanReport(
        grid=grid,
        sizes=sizes_of(grid),
        times=times_of(grid),
        prints=prints_of(grid),
        checking=f"colormatch check {grid.tiles[0].name} --reference strip.txt",
        command=merge_command(grid),
        problem=problem,
        alternatives=alternatives,
        laying=(*laying_of(grid), *_hanging(grid)),
        cautions=cautions_of(wish.frame),
        assumed=(*assumed_of(grid), *_estimates(grid)),
        picture=None if out is None else str(out),
    )
    if out is not None:
        draw_plan(report, out)
    return report


def strip_sizes() -> dict[str, Size]:
    """Give length and width in mm of the strips that ship, the longest first."""
    from colormatch.files.layouts import shipped_layouts

    sizes = {name: (one.width, one.height) for name, one in shipped_layouts().items()}
    return dict(sorted(sizes.items(), key=lambda item: -item[1][0]))


def bare_tiles(
    grid: TileGrid, strips: Mapping[str, Size]
) -> tuple[str | None, tuple[Alternative, ...]]:
    """Say which tiles can have no strip, and which other ways spare that."""
    if not grid.bare:
        return None, ()
    numbers = [str(k) for k, tile in enumerate(grid.tiles, start=1) if tile.strip is None]
    far = max(tile.links for tile in grid.tiles)
    few = len(numbers) == 1
    problem = (
        f"{'tile' if few else 'tiles'} {', '.join(numbers)} of {len(grid.tiles)} "
        f"{'lies' if few else 'lie'} inside the painting, with no edge on the glass beside which a "
        f"strip could be: {'its' if few else 'their'} colour has to come from the neighbours, "
        f"over up to {far} overlap{'' if far == 1 else 's'}, which is less certain"
    )
    return problem, tuple(_alternatives(grid, strips))


def _alternatives(grid: TileGrid, strips: Mapping[str, Size]) -> list[Alternative]:
    wish = grid.wish
    tries = []
    if wish.clear > 0:
        text = "with --clear 0mm, if the scanner's maker says that its start may be covered"
        tries.append((text, replace(wish, clear=0.0)))
    for name, glass in LARGER.items():
        if glass[0] > wish.glass[0] and glass[1] > wish.glass[1]:
            text = f"on a glass of {glass[0]:g} x {glass[1]:g} mm ({name})"
            tries.append((text, replace(wish, glass=glass)))
    found = []
    for text, other in tries:
        try:
            better = arrange(other, strips)
        except InputError:
            continue
        if len(better.bare) < len(grid.bare):
            left = "all with a strip" if not better.bare else f"{len(better.bare)} without a strip"
            found.append(
                Alternative(text=f"{text}: {len(better.tiles)} tiles, {left}",
                            tiles=len(better.tiles))
            )  # fmt: skip
    return found


def merge_command(grid: TileGrid) -> str:
    """Give the command that joins the scans, their names in the order it takes."""
    names = " ".join(tile.name for tile in grid.tiles)
    width, height = grid.lying
    order = f" --order {grid.columns}x{grid.rows}" if len(grid.tiles) > 1 else ""
    return (
        f"colormatch merge {names}{order} --sheet {width:g}x{height:g}mm --blank blank.tif "
        "--reference strip.txt --out painting.tif"
    )


def _hanging(grid: TileGrid) -> tuple[str, ...]:
    over = hangs_over(grid)
    if not over:
        return ()
    return (
        f"the painting hangs over the glass by up to {', '.join(over)} of the drawing: hold it "
        "level with the glass there; the lid's hinge must be at none of these sides, or the lid "
        "one that its maker lets you take off",
    )


def _estimates(grid: TileGrid) -> tuple[str, ...]:
    times = times_of(grid)
    return (
        f"deflate leaves {PACKED:.0%} of a 16-bit scan; a noisy scanner packs worse",
        f"{times.per_scan:.0f} s per scan and {SECONDS_PER_LAYING / 60:.0f} min to lay and check a "
        "tile: guesses, as scanners differ by a factor of three; one scan to warm the lamp up and "
        "one of a blank sheet are counted",
        "prints: one pixel of the scan is one pixel of the print",
    )


def draw_plan(report: PlanReport, out: Path) -> None:
    """Write the drawing, whole or not at all."""
    from colormatch.reporting.plan_drawing import plan_sheet
    from colormatch.reporting.shapes import picture_bytes

    data = picture_bytes(plan_sheet(report), out.suffix)
    with written_whole(out) as temporary:
        temporary.write_bytes(data)
