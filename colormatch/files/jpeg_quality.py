"""How coarsely a JPEG was saved, from its quantisation tables."""

from __future__ import annotations

from pathlib import Path

import numpy as np

STANDARD_LUMINANCE = (
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55,
    14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51, 87, 80, 62,
    18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
)  # fmt: skip
"""ITU-T T.81, table K.1, row by row."""


def saved_quality(path: Path) -> float | None:
    """Give the quality, 1 to 100, at which the customary encoder would use these tables.

    The scale is that of the Independent JPEG Group: the standard's table times
    ``(200 - 2 q) / 100`` from 50 on, times ``50 / q`` below.

    Parameters
    ----------
    path : Path
        A JPEG that was opened before.

    Returns
    -------
    float or None
        None if the file holds no table.
    """
    from PIL import Image

    with Image.open(path) as picture:
        tables: dict[int, list[int]] = getattr(picture, "quantization", {})
    if 0 not in tables:
        return None
    # Pillow gives the tables row by row.
    scale = float(np.mean(np.array(tables[0]) / np.array(STANDARD_LUMINANCE)))
    return 100 - 50 * scale if scale <= 1 else 50 / scale
