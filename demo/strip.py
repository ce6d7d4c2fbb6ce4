"""The strip as printed: what the inks really made of the raster, and its measured values."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import lab_from_xyz, rgb_space, xyz_from_lab
from colormatch.colour.transfer import decode_srgb
from colormatch.model import FloatArray, Layout, Reference

from .inks import HOME, Printer, driver, print_spectra
from .spectra import xyz_from_spectra

PAGE = "SEA-22"
SERIAL = f"{PAGE}A"
"""Of the demo's page of strips, and of the strip cut from it."""


@dataclass(frozen=True, kw_only=True, eq=False)
class PrintedStrip:
    """A strip on paper.

    Attributes
    ----------
    layout : Layout
        Its design.
    ppi : float
        Of ``colour``; pixel (0, 0) covers the strip's top left corner.
    colour : ndarray of int32, shape (H, W)
        Number of the colour asked of the printer.
    spectra : ndarray of shape (C, 36)
        Reflectance the printer made of each.
    serial : str
        What its symbol states; empty if it bears none.
    """

    layout: Layout
    ppi: float
    colour: NDArray[np.int32]
    spectra: FloatArray
    serial: str = ""

    def seen(self, weights: FloatArray) -> NDArray[np.float32]:
        """Linear response (H, W, N) of the sheet to weights (N, 36)."""
        table = (self.spectra @ weights.T).astype(np.float32)
        return table.take(self.colour.ravel(), axis=0).reshape(*self.colour.shape, -1)


def printed_strip(
    layout: Layout,
    raster: NDArray[np.uint8],
    *,
    ppi: float,
    drift: float = 1.0,
    printer: Printer = HOME,
    serial: str = "",
) -> PrintedStrip:
    """Print an sRGB raster, uint8 (H, W, 3), of a strip.

    ``drift`` is how far the printer has moved from what its driver knows, 1 being an
    ordinary home printer; ``serial`` is what the raster's symbol states.
    """
    key = raster.astype(np.int32) @ np.array([65536, 256, 1], np.int32)
    asked, colour = np.unique(key, return_inverse=True)
    srgb = np.stack([asked >> 16, asked >> 8 & 255, asked & 255], axis=-1) / 255
    xyz = decode_srgb(srgb) @ rgb_space("srgb").xyz_from_rgb.T
    spectra = print_spectra(driver(xyz, printer, drift=drift), printer)
    number = colour.reshape(key.shape).astype(np.int32)
    return PrintedStrip(layout=layout, ppi=ppi, colour=number, spectra=spectra, serial=serial)


def shipped_strip(
    name: str,
    *,
    ppi: float = 600.0,
    drift: float = 1.0,
    printer: Printer = HOME,
    serial: str = SERIAL,
) -> PrintedStrip:
    """Print one of the strips that come with the program."""
    from colormatch.drawing import draw_raster
    from colormatch.files.layouts import shipped_layouts, shipped_reference

    layout = shipped_layouts()[name]
    raster = draw_raster(layout, shipped_reference(name), ppi, serial=serial)
    return printed_strip(layout, raster, ppi=ppi, drift=drift, printer=printer, serial=serial)


def true_reference(
    strip: PrintedStrip, *, noise: float = 0.0, rng: np.random.Generator | None = None
) -> Reference:
    """Measure the printed strip as a spectrophotometer would.

    Parameters
    ----------
    strip : PrintedStrip
        The sheet that was scanned.
    noise : float
        Standard deviation of each of L*, a* and b* of the reading.
    rng : numpy.random.Generator, optional
        Needed when ``noise`` is not 0.

    Returns
    -------
    Reference
        Of kind ``"measured"``, in the layout's order.
    """
    rows, columns = patch_pixels(strip)
    xyz = xyz_from_spectra(strip.spectra[strip.colour[rows, columns]])
    if noise:
        if rng is None:
            raise ValueError("rng must be given when noise is not 0")
        xyz = np.clip(
            xyz_from_lab(lab_from_xyz(xyz) + noise * rng.standard_normal(xyz.shape)), 0, None
        )
    return Reference(
        ids=tuple(patch.id for patch in strip.layout.patches),
        xyz=xyz,
        kind="measured",
        facts={
            "instrument": "spectral model of the demo",
            "condition": "D50, 2 degrees, no UV",
            **({"serial": strip.serial} if strip.serial else {}),
        },
    )


def patch_pixels(strip: PrintedStrip) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Row and column of the raster at the middle of each patch."""
    middles = patch_centres(strip.layout)
    pixel = np.floor(middles * strip.ppi / 25.4).astype(np.intp)
    return pixel[:, 1], pixel[:, 0]


def patch_centres(layout: Layout) -> FloatArray:
    """Middle of each patch, (N, 2), mm."""
    return np.array([[p.x + p.width / 2, p.y + p.height / 2] for p in layout.patches])
