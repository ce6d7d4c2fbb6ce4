"""A plan as text for a terminal, with a small drawing in letters."""

from __future__ import annotations

from itertools import pairwise

from colormatch.plans import PlanReport, Side, Sizes, TileGrid, TilePlan, Times
from colormatch.reporting.wrapping import bullets, duration, megabytes

DRAWING_WIDTH = 48
"""Letters; a letter is about twice as tall as wide."""
MOST_LINES = 24
SMALLEST_CELL = 7, 3
"""Letters across and lines down that a number and its rim take."""
MOST_CELLS = 14
"""Columns or rows that a drawing in letters can show."""


def text_plan(report: PlanReport) -> str:
    """Give a plan as lines of text.

    Parameters
    ----------
    report : PlanReport

    Returns
    -------
    str
        Ends without a line break.
    """
    grid = report.grid
    lines = [*_headline(grid), ""]
    if report.problem is not None:
        lines += bullets("not every tile can have a strip", [report.problem])
        if report.alternatives:
            lines += bullets("what would help", [one.text for one in report.alternatives])
        lines.append("")
    lines += [*letters(grid), ""]
    lines += bullets("how to lay it", report.laying)
    lines += bullets("files and disk", _sizes(report.sizes))
    lines += bullets("time", [_times(report.times)])
    lines += bullets("prints", _prints(report))
    lines += ["after every scan, while the painting still lies there:", f"    {report.checking}"]
    lines += ["after the last one:", f"    {report.command}"]
    lines += bullets("take care", report.cautions)
    lines += bullets("assumed", report.assumed)
    if report.picture is not None:
        lines += ["", f"drawing: {report.picture}"]
    return "\n".join(lines)


def _headline(grid: TileGrid) -> list[str]:
    width, height = grid.wish.painting
    count = len(grid.tiles)
    scans = "1 scan" if count == 1 else f"{count} scans, {grid.columns} x {grid.rows}"
    lines = [
        f"painting {width:g} x {height:g} mm on a glass of {grid.wish.glass[0]:g} x "
        f"{grid.wish.glass[1]:g} mm at {grid.wish.ppi:g} ppi: {scans}"
    ]
    for name, shared in zip(("columns", "rows"), grid.overlaps, strict=True):
        if shared is not None:
            lines.append(f"    overlap between {name}: {shared:.0f} mm{_share(grid, name, shared)}")
    return lines


def _share(grid: TileGrid, name: str, shared: float) -> str:
    axis = 2 if name == "columns" else 3
    least = min(tile.part[axis] for tile in grid.tiles)
    return f" ({shared / least:.0%} of a tile; 20 to 30 % is usual)"


def letters(grid: TileGrid) -> list[str]:
    """Draw the painting with its tiles and their strips, as the scans show it."""
    if max(grid.columns, grid.rows) > MOST_CELLS:
        return ["    too many tiles to draw in letters: give --out FILE for a picture"]
    across = _borders([t for t in grid.tiles if t.row == 1], 0)
    down = _borders([t for t in grid.tiles if t.column == 1], 1)
    columns, rows = _cells(grid, across, down)
    canvas = [[" "] * (columns[-1] + 1) for _ in range(rows[-1] + 1)]
    for y in range(rows[-1] + 1):
        for x in range(columns[-1] + 1):
            level, upright = y in rows, x in columns
            canvas[y][x] = "+" if level and upright else "-" if level else "|" if upright else " "
    for number, tile in enumerate(grid.tiles, start=1):
        x = (columns[tile.column - 1] + columns[tile.column]) // 2
        y = (rows[tile.row - 1] + rows[tile.row]) // 2
        text = f"{number}" if tile.strip is not None else f"{number}?"
        for k, letter in enumerate(text):
            canvas[y][x - len(text) // 2 + k] = letter
    return _with_strips(grid, canvas, columns, rows)


def _borders(tiles: list[TilePlan], axis: int) -> list[float]:
    """Middle of every overlap, between the painting's two edges, mm."""
    parts = [(t.part[axis], t.part[axis] + t.part[axis + 2]) for t in tiles]
    inner = [(a[1] + b[0]) / 2 for a, b in pairwise(parts)]
    return [0.0, *inner, parts[-1][1]]


def _cells(grid: TileGrid, across: list[float], down: list[float]) -> tuple[list[int], list[int]]:
    """Give letters and lines of the borders; every cell holds its number."""
    width, height = grid.lying
    per_mm = min(DRAWING_WIDTH / width, 2 * MOST_LINES / height)
    columns, rows = [0], [0]
    for a, b in pairwise(across):
        columns.append(columns[-1] + max(SMALLEST_CELL[0], round((b - a) * per_mm)))
    for a, b in pairwise(down):
        rows.append(rows[-1] + max(SMALLEST_CELL[1], round((b - a) * per_mm / 2)))
    return columns, rows


def _with_strips(
    grid: TileGrid, canvas: list[list[str]], columns: list[int], rows: list[int]
) -> list[str]:
    left, right = [" "] * len(canvas), [" "] * len(canvas)
    above, below = [" "] * len(canvas[0]), [" "] * len(canvas[0])
    for tile in grid.tiles:
        if tile.strip is None:
            continue
        x = (columns[tile.column - 1] + columns[tile.column]) // 2
        y = (rows[tile.row - 1] + rows[tile.row]) // 2
        match tile.strip.side:
            case Side.TOP:
                above[x - 2 : x + 3] = "====="
            case Side.BOTTOM:
                below[x - 2 : x + 3] = "====="
            case Side.LEFT:
                left[y - 1 : y + 2] = "###"
            case Side.RIGHT:
                right[y - 1 : y + 2] = "###"
    middle = [
        f"    {a} {''.join(line)} {b}".rstrip()
        for a, line, b in zip(left, canvas, right, strict=True)
    ]
    top = "right" if grid.turned else "top"
    lines = [f"    {' ' * 2}{''.join(above)}".rstrip(), *middle, f"      {''.join(below)}".rstrip()]
    key = f"    as the scans show it; the painting's top is at the {top}; === and # are strips"
    if grid.bare:
        key += "; ? has none"
    return [*(line for line in lines if line.strip()), key]


def _sizes(sizes: Sizes) -> list[str]:
    wide, tall = sizes.scan_pixels
    return [
        f"each scan: {wide} x {tall} pixels, {megabytes(sizes.scan)} as 16-bit RGB TIFF "
        f"uncompressed, about {megabytes(sizes.scan * sizes.packed)} with deflate",
        f"joined picture: {sizes.result_pixels[0]} x {sizes.result_pixels[1]} pixels, "
        f"{megabytes(sizes.result)}, about {megabytes(sizes.result * sizes.packed)} with deflate",
        f"disk for {sizes.scans} scans (one is the blank sheet) and the joined picture: "
        f"{megabytes(sizes.disk)}, about {megabytes(sizes.disk_packed)} with deflate",
        f"while merge works, {megabytes(sizes.disk_merging)} more for unpacked scans, none "
        "if they are uncompressed TIFF",
    ]


def _times(times: Times) -> str:
    return (
        f"about {duration(times.total)} at the scanner: {times.scans} scans of "
        f"{times.per_scan:.0f} s and {times.per_laying / 60:.0f} min to lay and check each tile"
    )


def _prints(report: PlanReport) -> list[str]:
    return [
        f"at {one.ppi:g} ppi up to {one.size[0]:.0f} x {one.size[1]:.0f} mm "
        f"({one.size[0] / 25.4:.1f} x {one.size[1] / 25.4:.1f} inches)"
        for one in report.prints
    ]
