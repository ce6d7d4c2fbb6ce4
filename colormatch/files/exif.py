"""The facts of an Exif block that matter here: orientation, resolution, what made it."""

from __future__ import annotations

import warnings
from dataclasses import dataclass

from colormatch.files.device import MAKE, MODEL, device_name
from colormatch.files.resolution import PER_INCH, resolution

ORIENTATION, X_RESOLUTION, Y_RESOLUTION, UNIT = 274, 282, 283, 296


@dataclass(frozen=True, kw_only=True)
class ExifFacts:
    """Orientation tag, 1 if absent; pixels per inch, None, and device, empty, if not stated."""

    orientation: int = 1
    ppi: tuple[float, float] | None = None
    device: str = ""


def exif_facts(block: bytes | None) -> ExifFacts:
    """Read an Exif block, with or without its ``Exif`` prefix.

    A damaged block gives no facts: it says nothing about the pixels.
    """
    if not block:
        return ExifFacts()
    try:
        return _parsed(block)
    except Exception:  # noqa: BLE001 - the parser has no error type of its own
        return ExifFacts()


def _parsed(block: bytes) -> ExifFacts:
    from PIL import Image

    exif = Image.Exif()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        exif.load(block)
        x, y = float(exif.get(X_RESOLUTION, 0)), float(exif.get(Y_RESOLUTION, 0))
        ppi, _ = resolution(x, y, PER_INCH.get(int(exif.get(UNIT, 2))))
        device = device_name(exif.get(MAKE), exif.get(MODEL))
        return ExifFacts(orientation=int(exif.get(ORIENTATION, 1)), ppi=ppi, device=device)
