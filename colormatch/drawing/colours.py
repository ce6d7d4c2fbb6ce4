"""Which colour each part of a target is drawn in."""

from __future__ import annotations

import numpy as np

from colormatch.colour.spaces import rgb_space
from colormatch.errors import LayoutError
from colormatch.model import FloatArray, Layout, Reference

GREY = 119
"""8-bit sRGB code of lightness 50, the ground of a target."""

Codes = tuple[int, int, int]


def codes_from_xyz(xyz: FloatArray) -> FloatArray:
    """Give the nearest 8-bit sRGB codes of XYZ for D50; shape (..., 3), 0 to 255."""
    space = rgb_space("srgb")
    encoded = space.encode(np.asarray(xyz, dtype=np.float64) @ space.rgb_from_xyz.T)
    codes: FloatArray = np.clip(np.round(encoded * 255), 0, 255)
    return codes


def patch_codes(layout: Layout, reference: Reference) -> dict[str, Codes]:
    """Give the 8-bit sRGB codes in which each patch is drawn, by its id.

    Parameters
    ----------
    layout : Layout
        The target.
    reference : Reference
        Its nominal values.

    Raises
    ------
    LayoutError
        If a patch of the layout has no value.
    """
    codes = codes_from_xyz(reference.xyz)
    known = {id_: _triple(code) for id_, code in zip(reference.ids, codes, strict=True)}
    missing = [patch.id for patch in layout.patches if patch.id not in known]
    if missing:
        raise LayoutError(
            f"layout {layout.name}: the reference has no value for {', '.join(missing)}: "
            "give the reference file that belongs to this layout"
        )
    return {patch.id: known[patch.id] for patch in layout.patches}


def ground_codes(layout: Layout, codes: dict[str, Codes]) -> dict[str, Codes]:
    """Give the codes of the grounds ``"white"``, ``"black"`` and ``"grey"``.

    White is left to the paper; black is the darkest neutral patch, and plain black
    for a layout that has none.
    """
    neutrals = [codes[patch.id] for patch in layout.patches if patch.role == "neutral"]
    black = min(neutrals, key=sum, default=(0, 0, 0))
    return {"white": (255, 255, 255), "black": black, "grey": (GREY, GREY, GREY)}


def _triple(code: FloatArray) -> Codes:
    return int(code[0]), int(code[1]), int(code[2])
