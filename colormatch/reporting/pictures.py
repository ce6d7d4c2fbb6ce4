"""Pictures and colours in a form that a page can hold."""

from __future__ import annotations

import base64
import io

import numpy as np

from colormatch.colour.gamut import clip_to_gamut
from colormatch.colour.spaces import rgb_space, xyz_from_lab
from colormatch.views import Picture

QUALITY = 84
"""Of JPEG in the page: nothing visible is lost at the size shown."""


def data_uri(picture: Picture, quality: int = QUALITY) -> str:
    """Give a picture, uint8 sRGB (height, width, 3), as a JPEG inside an address."""
    from PIL import Image

    buffer = io.BytesIO()
    Image.fromarray(np.ascontiguousarray(picture)).save(buffer, "JPEG", quality=quality)
    return "data:image/jpeg;base64," + base64.b64encode(buffer.getvalue()).decode("ascii")


def hex_from_lab(lab: tuple[float, float, float]) -> str:
    """Give a CIELAB colour (D50, 2°) as ``#rrggbb`` in sRGB, clipped to what that holds."""
    space = rgb_space("srgb")
    light = xyz_from_lab(np.array(lab)) @ space.rgb_from_xyz.T
    return hex_from_srgb(space.encode(clip_to_gamut(light)))


def hex_from_srgb(rgb: object) -> str:
    """Give encoded sRGB values, 0 to 1, as ``#rrggbb``."""
    codes = np.round(np.clip(np.asarray(rgb, dtype=float), 0, 1) * 255).astype(int)
    return "#" + "".join(f"{code:02x}" for code in codes)
