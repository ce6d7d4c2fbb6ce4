"""Reading the symbol that names a sheet, at the place its marks foretell."""

from __future__ import annotations

import numpy as np

from colormatch.finding.poses import applied
from colormatch.finding.reading import Region
from colormatch.model import FloatArray, Symbol
from colormatch.symbols.micro import SIZE, pattern, text_of
from colormatch.symbols.sheets import parsed

NOT_PRINTED, UNREADABLE, READ = "not printed", "unreadable", "read"

SAMPLES = 4
"""Points along each side of a module."""

INNER = 0.6
"""Share of a module's side over which they are spread."""

SHARPENED = (0.0, 0.25, 0.5, 1.0)
"""Shares of a module's difference from its neighbours that are added to it, tried in
turn: a soft or coarse scan mixes modules with those beside them."""

LEAST_CONTRAST = 0.05
"""Of encoded values, between the dark and the light modules that are always the same."""

LIKENESS = 0.8
"""Share of those modules that must be as expected for a symbol to be there at all."""


def read_symbol(region: Region, px_from_mm: FloatArray, symbol: Symbol | None) -> tuple[str, str]:
    """Read a sheet's symbol.

    Parameters
    ----------
    region : Region
        Where the pixels are.
    px_from_mm : ndarray of shape (2, 3)
        Pose in the scan.
    symbol : Symbol or None
        Where it is printed, if the design has one.

    Returns
    -------
    serial, symbol : str
        As in `StripReading`.
    """
    if symbol is None:
        return "", NOT_PRINTED
    grey = _module_means(region, px_from_mm, symbol)
    if grey is None:
        return "", UNREADABLE
    return _understood(grey, symbol.design)


def _understood(grey: FloatArray, design: str) -> tuple[str, str]:
    """Make out what the modules say; ``grey`` has one ring of bare paper round them."""
    fixed, dark = pattern()
    inner = grey[1:-1, 1:-1]
    ink, paper = np.median(inner[fixed & dark]), np.median(inner[fixed & ~dark])
    middle = (ink + paper) / 2
    if paper - ink < LEAST_CONTRAST or np.mean((inner < middle) == dark, where=fixed) < LIKENESS:
        return "", NOT_PRINTED
    found = []
    for share in SHARPENED:
        read = text_of(_sharpened(grey, share) < middle)
        sheet = None if read is None else parsed(read[0])
        if read is not None and sheet is not None:
            found.append((read[1], sheet))
            if read[1] == 0:
                break
    if not found:
        return "", UNREADABLE
    _, (stated, serial) = min(found, key=lambda one: one[0])
    return (serial, READ) if stated == design else ("", f"{stated} {serial}")


def _sharpened(grey: FloatArray, share: float) -> FloatArray:
    """Take out of each module what its neighbours shine into it; the outer ring goes."""
    inner = grey[1:-1, 1:-1]
    around = (grey[:-2, 1:-1] + grey[2:, 1:-1] + grey[1:-1, :-2] + grey[1:-1, 2:]) / 4
    sharper: FloatArray = inner + share * (inner - around)
    return sharper


def _module_means(region: Region, px_from_mm: FloatArray, symbol: Symbol) -> FloatArray | None:
    """Give the mean of each module and of one ring round them, (SIZE + 2, SIZE + 2)."""
    import cv2

    module = symbol.side / SIZE
    spread = ((np.arange(SAMPLES) + 0.5) / SAMPLES - 0.5) * INNER
    along = (np.arange(-1, SIZE + 1)[:, None] + 0.5 + spread).ravel() * module
    x, y = np.meshgrid(symbol.x + along, symbol.y + along)
    px = applied(px_from_mm, np.stack([x, y], axis=-1).reshape(-1, 2))
    low, high = px.min(axis=0), px.max(axis=0)
    if (low < 0).any() or (high > np.array(region.size) - 1).any():
        return None
    pixels, top, left = region.cut(low - 1, high + 1)
    grey = pixels.mean(axis=2, dtype=np.float32) / np.float32(np.iinfo(pixels.dtype).max)
    at = (px - (left, top)).astype(np.float32).reshape(*x.shape, 2)
    flags = cv2.INTER_LINEAR
    read = cv2.remap(
        grey, at[..., 0].copy(), at[..., 1].copy(), flags, borderMode=cv2.BORDER_REPLICATE
    )
    count = SIZE + 2
    means: FloatArray = (
        np.asarray(read, dtype=np.float64).reshape(count, SAMPLES, count, SAMPLES).mean(axis=(1, 3))
    )
    return means
