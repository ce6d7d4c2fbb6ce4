"""The strip to print, in four files, and a sheet for the painter's own paints in three."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from colormatch.colour.spaces import rgb_space
from colormatch.drawing.page import COPIES, draw_page
from colormatch.drawing.raster import draw_raster
from colormatch.drawing.swatch_layout import swatch_layout
from colormatch.drawing.swatches import draw_swatch_page
from colormatch.errors import InputError
from colormatch.files.layouts import layout_text, shipped_layouts, shipped_reference
from colormatch.files.metadata import PictureFacts
from colormatch.files.profiles import space_profile
from colormatch.files.references import reference_text
from colormatch.files.swatch_values import empty_table
from colormatch.files.whole import written_whole
from colormatch.files.writing import write_picture
from colormatch.job.folders import make_folder, refuse_existing
from colormatch.symbols.sheets import COPIES as SHEETS
from colormatch.symbols.sheets import SERIAL_CHARACTERS, is_page, random_page

RASTER_PPI = 600.0
LENGTHS = ("long", "short")


def write_target(
    folder: Path,
    length: str,
    *,
    serial: str = "",
    swatches: int | None = None,
    force: bool = False,
) -> list[Path]:
    """Write ``strip.pdf``, ``strip.tif``, ``strip.toml`` and ``strip.txt``.

    With ``swatches``, also ``swatches.pdf``, ``swatches.toml`` and ``swatches.csv``.

    Parameters
    ----------
    folder : Path
        Made if missing.
    length : str
        ``"long"`` or ``"short"``.
    serial : str
        Of the page, such as ``"7F3-K2"``, which its strips extend by A and B; drawn
        by lot if empty. The picture is strip A.
    swatches : int, optional
        Boxes of a sheet for the painter's own paints, 6 to 60. Default: no sheet.
    force : bool
        Whether existing files may be replaced.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    OutputError
        If a file exists and ``force`` is off (then nothing is written), or the
        folder cannot be written to.
    """
    name, serials = f"strip-{length}", sheet_serials(serial)
    layout, reference = shipped_layouts()[name], shipped_reference(name)
    paths = {suffix: folder / f"strip.{suffix}" for suffix in ("pdf", "tif", "toml", "txt")}
    sheet = {} if swatches is None else _swatch_files(folder, swatches)
    refuse_existing([*paths.values(), *sheet], force=force)
    make_folder(folder)
    page = draw_page(layout, reference, serials)
    stated = replace(reference, facts=reference.facts | {"serial": " ".join(serials)})
    remark = f"Layout of the sheets with the serials {' and '.join(serials)}."
    _write_bytes(paths["pdf"], page, force)
    _write_bytes(paths["toml"], layout_text(layout, remark=remark).encode(), force)
    _write_bytes(paths["txt"], reference_text(stated, name).encode(), force)
    _write_raster(
        paths["tif"],
        draw=lambda: draw_raster(layout, reference, RASTER_PPI, serial=serials[0]),
        force=force,
    )
    for path, data in sheet.items():
        _write_bytes(path, data, force)
    return [*paths.values(), *sheet]


def _swatch_files(folder: Path, boxes: int) -> dict[Path, bytes]:
    """Draw the sheet for paints: contents by file."""
    layout = swatch_layout(boxes)
    return {
        folder / "swatches.pdf": draw_swatch_page(layout),
        folder / "swatches.toml": layout_text(layout).encode(),
        folder / "swatches.csv": empty_table(layout).encode(),
    }


def sheet_serials(page: str) -> list[str]:
    """Give the serials of the strips of one page, drawn by lot if ``page`` is empty.

    Raises
    ------
    InputError
        If it is no page's serial.
    """
    page = page.strip().upper() or random_page()
    if not is_page(page):
        raise InputError(
            f"{page!r} is no serial of a page: give three characters, a hyphen and two more, such "
            f"as 7F3-K2, of {SERIAL_CHARACTERS}"
        )
    return [f"{page}{copy}" for copy in SHEETS[:COPIES]]


def _write_bytes(path: Path, data: bytes, force: bool) -> None:
    with written_whole(path, force=force) as temporary:
        temporary.write_bytes(data)


def _write_raster(path: Path, *, draw: Callable[[], object], force: bool) -> None:
    import numpy as np

    pixels = np.asarray(draw(), dtype=np.uint8)
    write_picture(
        path,
        iter([pixels]),
        width=pixels.shape[1],
        height=pixels.shape[0],
        bits=8,
        format="tiff",
        profile=space_profile(rgb_space("srgb")),
        ppi=(RASTER_PPI, RASTER_PPI),
        facts=PictureFacts(title="colormatch strip, to be printed at 100 %"),
        compression="deflate",
        force=force,
    )
