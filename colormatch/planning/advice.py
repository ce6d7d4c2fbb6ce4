"""How to lay the painting, and what to beware of; what the makers and a conservator decide."""

from __future__ import annotations

from colormatch.plans import Frame, Side, TileGrid

RELIEF = (
    "Guidelines for heritage (FADGI 2016, table for paintings) recommend flatbed scanners for "
    "drawings and watercolours, not for paintings with relief, as each tile lights it its own way."
)
"""As read in a public text copy of the 2016 edition."""

KINDS = {
    Frame.STRETCHED: (
        "A canvas on its stretcher does not lie flat: it hangs a little above the glass, or its "
        "bars rest on the scanner's rim, and then it is blurred and dark there. Scan it off its "
        "stretcher, edges opened out, never folded under, with paper and an even weight over it, "
        "or on a scanner whose lid its maker lets you take off.",
        "Check every tile while the canvas is still off: it has to be stretched again.",
        RELIEF,
        "Taking out staples and stretching: wear eye protection and gloves, point tools away from "
        "your hands and from the painting, work over padding. Old canvas tears at the fold: leave "
        "it to a conservator.",
    ),
    Frame.BOARD: (
        "A board does not bend: where it is larger than the glass it rests on the scanner's rim if "
        "that stands above the glass, and is then blurred and dark all over. Lay a ruler across "
        "glass and rim first: light under the ruler means that this scanner does not do.",
        "A board larger than the lid keeps it open: hang plain dark cloth round the board so that "
        "no daylight reaches the glass. It cannot reach past the lid's hinge.",
        RELIEF,
        "Boards are heavy and have hard edges: lower them with two hands, slide nothing over the "
        "glass.",
    ),
    Frame.PAPER: (
        "Press loose paper flat with a clean sheet and an even weight; what is larger than the "
        "glass may hang over its edge, held so that it does not crease there.",
        "Pastel, charcoal and other powdery surfaces come off on glass and do not go face down; "
        "ask a conservator about gouache that looks powdery.",
    ),
}
"""Per kind of support (common practice, no source)."""

ALWAYS = (
    "Flaking, powdery, thickly painted, wet or newly varnished work does not go face down on "
    "glass. Ask a conservator before scanning anything old or valuable.",
    "Glass breaks: how much weight it bears is for the scanner's maker to say; spread it, do not "
    "lean on the lid, and do not look into the lamp.",
    "Opening a scanner, or taking off a lid that its maker did not make for it, can lay mains "
    "voltage bare and ends the warranty: leave it to a technician.",
    "Lead white, cadmium, chrome, cobalt and emerald green are poisonous as dust: no dry "
    "scraping, gloves, fresh air, wash your hands.",
    "Keep the scans: they are the originals, and the joined picture is made from them.",
    "Work of someone else may be scanned only with their consent.",
    "A conservator, the scanner's maker, local rules and licensed practice come before this plan.",
)
"""For every painting (common practice, no source)."""


def cautions_of(frame: Frame) -> tuple[str, ...]:
    """Give what to beware of with one kind of painting."""
    return (*KINDS[frame], *ALWAYS)


def laying_of(grid: TileGrid) -> tuple[str, ...]:
    """Say how to lay painting and strip, in the order of doing it."""
    lines = [_way_up(grid), _strip(grid)]
    if grid.columns > 1 or grid.rows > 1:
        lines.append(
            "lay every tile the same way up: the lamp lights the relief from one side, and a tile "
            "turned another way shows other brush strokes at the seam"
        )
    lines.append(
        "seen from above, with the painting face down, left and right change places against the "
        "drawing: the drawing is what the scans show"
    )
    over = _start(grid)
    return (*lines, *over)


def _way_up(grid: TileGrid) -> str:
    if grid.turned:
        return (
            "painting: turned a quarter clockwise in all tiles, so that its top is at the right of "
            "every scan; turn the joined picture a quarter back afterwards"
        )
    return "painting: upright, its top towards the start of the glass, in all tiles"


def _strip(grid: TileGrid) -> str:
    length, width = grid.strip_size
    under = (
        "; lay it on the glass first: the unpainted edge of the cloth may lie over its back, the "
        "painted face may not"
        if grid.wish.frame is Frame.STRETCHED
        else ""
    )
    return (
        f"strip: the same one beside every tile, {grid.strip} ({length:g} x {width:g} mm), face "
        f"down, at least {grid.gap:g} mm clear of the painting, at the side that the drawing "
        f"shows{under}"
    )


def _start(grid: TileGrid) -> list[str]:
    clear = grid.wish.clear
    if clear <= 0:
        return []
    numbers = [str(k) for k, tile in enumerate(grid.tiles, start=1) if tile.covers_start]
    lines = [
        f"the first {clear:g} mm of the glass hold no strip and nothing that is relied on; many "
        "scanners calibrate there"
    ]
    if numbers:
        word = "tile" if len(numbers) == 1 else "tiles"
        lines.append(
            f"in {word} {', '.join(numbers)} the painting itself lies across that start: if the "
            "scanner's maker forbids it, streaks along the carriage are the price; then only a "
            "larger glass helps, as a half turn would light the relief from the other side"
        )
    return lines


def hangs_over(grid: TileGrid) -> tuple[str, ...]:
    """Say per side of the glass how far the painting reaches beyond it at most."""
    lines = []
    for side in Side:
        most = max(tile.hangs.get(side.value, 0.0) for tile in grid.tiles)
        if most > 0:
            lines.append(f"{most:.0f} mm at the {side.value}")
    return tuple(lines)


def assumed_of(grid: TileGrid) -> tuple[str, ...]:
    """Say what the plan takes for granted."""
    lines = [
        f"the glass is {grid.wish.glass[0]:g} x {grid.wish.glass[1]:g} mm and the whole of it is "
        "scanned; the lamp lies along the first figure, the carriage runs along the second, and "
        "the scan begins at the top of the drawing",
        f"{grid.gap:g} mm between strip and painting, 5 mm of glass beside every edge of the "
        "painting, 2 mm between strip and rim (our choice)",
    ]
    if grid.wish.clear > 0:
        lines.append(
            f"the first {grid.wish.clear:g} mm of the glass are kept clear (common practice): if "
            "the maker says that nothing is calibrated there, give --clear 0mm"
        )
    return tuple(lines)
