"""The orientation tag: a picture turned upright window by window."""

from __future__ import annotations

from dataclasses import dataclass, replace

from colormatch.files.pixels import Pixels
from colormatch.model import Scan, Window


@dataclass(frozen=True, kw_only=True)
class Turn:
    """How the stored raster becomes the upright one: swap axes first, then flip."""

    swap: bool = False
    flip_rows: bool = False
    flip_columns: bool = False
    words: str


# TIFF 6.0, tag 274, and Exif 2.32, 4.6.4: where row 0 and column 0 belong.
TURNS = {
    2: Turn(flip_columns=True, words="mirrored left to right"),
    3: Turn(flip_rows=True, flip_columns=True, words="turned by 180°"),
    4: Turn(flip_rows=True, words="mirrored top to bottom"),
    5: Turn(swap=True, words="turned by 90° clockwise and mirrored left to right"),
    6: Turn(swap=True, flip_columns=True, words="turned by 90° clockwise"),
    7: Turn(
        swap=True,
        flip_rows=True,
        flip_columns=True,
        words="turned by 90° anticlockwise and mirrored left to right",
    ),
    8: Turn(swap=True, flip_rows=True, words="turned by 90° anticlockwise"),
}


def upright(stored: Scan, orientation: int) -> Scan:
    """Give the scan as its orientation tag wants it shown.

    Parameters
    ----------
    stored : Scan
        With pixels in the order of the file.
    orientation : int
        Value of the tag; 1 changes nothing, a value outside 1 to 8 is
        ignored with a note.

    Returns
    -------
    Scan
        Size, ppi and `read` turned, with a note that says so.
    """
    if orientation == 1:
        return stored
    if orientation not in TURNS:
        note = f"its orientation tag has the unknown value {orientation} and is ignored"
        return replace(stored, notes=(*stored.notes, note))
    turn = TURNS[orientation]
    width, height, ppi = stored.width, stored.height, stored.ppi
    if turn.swap:
        width, height = height, width
        ppi = ppi and (ppi[1], ppi[0])

    def read(window: Window) -> Pixels:
        return turned(stored.read(stored_window(window, turn, width, height)), turn)

    note = f"{turn.words}, as its orientation tag asks"
    return replace(
        stored, width=width, height=height, ppi=ppi, read=read, notes=(*stored.notes, note)
    )


def stored_window(window: Window, turn: Turn, width: int, height: int) -> Window:
    """Give the window of the stored raster that shows as ``window``.

    ``width`` and ``height`` are those of the upright picture.
    """
    row, column = window.row, window.column
    if turn.flip_rows:
        row = height - row - window.height
    if turn.flip_columns:
        column = width - column - window.width
    if turn.swap:
        return Window(row=column, column=row, height=window.width, width=window.height)
    return Window(row=row, column=column, height=window.height, width=window.width)


def turned(pixels: Pixels, turn: Turn) -> Pixels:
    """Turn a stored raster, shape (rows, columns, 3), upright."""
    view = pixels.swapaxes(0, 1) if turn.swap else pixels
    rows, columns = (slice(None, None, -1 if f else 1) for f in (turn.flip_rows, turn.flip_columns))
    return view[rows, columns].copy()
