"""A plain strip to scan until the shipped one can be drawn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.model import Layout, Mark, Patch


def stand_in() -> tuple[Layout, NDArray[np.uint8], float]:
    """Layout, raster and its ppi."""
    rng, ppi = np.random.default_rng(11), 600.0
    scale = ppi / 25.4
    raster = np.full((round(22 * scale), round(180 * scale), 3), 255, np.uint8)
    raster[20:-20, 20:-20] = 128
    patches = []
    colours = (
        np.array(np.meshgrid([0, 96, 176, 255], [0, 128, 255], [0, 128, 255])).reshape(3, -1).T
    )
    colours = np.concatenate([colours, np.repeat(np.arange(0, 256, 28)[:, None], 3, axis=1)])
    for k, colour in enumerate(colours[rng.permutation(len(colours))][:44]):
        x, y = 12 + 7 * (k % 22), 3.5 + 7.5 * (k // 22)
        box = np.round(np.array([x, x + 6.2, y, y + 6.2]) * scale).astype(int)
        raster[box[2] : box[3], box[0] : box[1]] = colour
        patches.append(Patch(id=f"P{k + 1}", x=x, y=y, width=6.2, height=6.2))
    marks = (Mark(id="M1", kind="ring", x=6, y=11, diameter=6),)
    return (
        Layout(name="stand-in", width=180, height=22, marks=marks, patches=tuple(patches)),
        raster,
        ppi,
    )
