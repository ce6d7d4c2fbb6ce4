"""Small scenes and a printed strip, made once."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.model import Layout, Mark, Patch
from demo.scene import Scene, make_scene
from demo.strip import PrintedStrip, printed_strip, shipped_strip


@pytest.fixture(scope="session")
def small_scene() -> Scene:
    return make_scene("coast", seed=4, size=(90.0, 70.0), ppi=200)


@pytest.fixture(scope="session")
def small_strip() -> PrintedStrip:
    """Print a sheet of 6 x 4 squares of 8 mm, 8 neutral and 16 chromatic."""
    levels = np.linspace(0, 255, 8).repeat(3).reshape(8, 3)
    hues = np.array([[r, g, b] for r in (40, 220) for g in (60, 200) for b in (50, 130, 210, 250)])
    colours = np.concatenate([levels, hues]).astype(np.uint8)
    raster = np.full((4 * 80, 6 * 80, 3), 128, np.uint8)
    patches = []
    for k, colour in enumerate(colours):
        row, column = divmod(k, 6)
        raster[row * 80 + 4 : row * 80 + 76, column * 80 + 4 : column * 80 + 76] = colour
        patches.append(Patch(id=f"P{k}", x=column * 8.0, y=row * 8.0, width=8.0, height=8.0))
    mark = Mark(id="M", kind="eye", x=4.0, y=4.0, diameter=4.0)
    layout = Layout(name="small", width=48.0, height=32.0, marks=(mark,), patches=tuple(patches))
    return printed_strip(layout, raster, ppi=254)


@pytest.fixture(scope="session")
def long_strip() -> PrintedStrip:
    return shipped_strip("strip-long")
