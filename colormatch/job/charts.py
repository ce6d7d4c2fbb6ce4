"""Charts without marks: their layout and roles, what is assumed of them, their reading."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np

from colormatch.colour.spaces import lab_from_xyz
from colormatch.errors import LayoutError
from colormatch.files.layouts import read_layout, shipped_charts, shipped_layouts
from colormatch.model import Layout, Reference

NEUTRAL_CHROMA = 5.0
"""C*ab of the reference below which a patch counts as neutral: printed greys keep within
3 or so (common practice, no source)."""
LEAST_PATCHES = 12
"""Fewer leave nothing to judge a fit by."""
LEAST_NEUTRALS = 3
"""Fewer greys tell nothing about a tone curve by themselves."""


def named_layout(path: Path) -> Layout:
    """Read a layout file, or take the shipped layout of that name.

    Raises
    ------
    LayoutError
        If there is neither, or the file cannot be used.
    """
    shipped = shipped_layouts() | shipped_charts()
    name = str(path)
    layout = shipped[name] if name in shipped and not path.is_file() else _read(path, shipped)
    if not layout.marks and len(layout.patches) < LEAST_PATCHES:
        raise LayoutError(
            f"{path}: a target without marks needs at least {LEAST_PATCHES} patches, to be told "
            f"from a painting (got {len(layout.patches)})"
        )
    return layout


def _read(path: Path, shipped: Mapping[str, Layout]) -> Layout:
    try:
        return read_layout(path)
    except LayoutError as error:
        if path.exists() or path.suffix:
            raise
        known = ", ".join(sorted(shipped))
        raise LayoutError(f"{error}; layouts that come along are called {known}") from error


def with_roles(layout: Layout, reference: Reference) -> Layout:
    """Tell from the reference which patches of unstated role are neutral.

    Parameters
    ----------
    layout : Layout
        Some patches may be ``"unstated"``.
    reference : Reference
        In the layout's order.
    """
    chroma = np.hypot(*lab_from_xyz(reference.xyz)[:, 1:].T)
    patches = tuple(
        replace(patch, role="neutral" if near < NEUTRAL_CHROMA else "chromatic")
        if patch.role == "unstated"
        else patch
        for patch, near in zip(layout.patches, chroma, strict=True)
    )
    return replace(layout, patches=patches)


def assumptions(stated: Layout, layout: Layout) -> tuple[str, ...]:
    """Say what a target leaves open and what is assumed instead.

    Parameters
    ----------
    stated : Layout
        As the file has it.
    layout : Layout
        With all roles told.
    """
    notes = []
    roles = [patch.role for patch in layout.patches]
    neutral = sum(role != "chromatic" for role in roles)
    if any(patch.role == "unstated" for patch in stated.patches):
        notes.append(
            f"the layout does not say which patches of {layout.name} are neutral: the {neutral} "
            f"of {len(roles)} whose reference has a chroma below {NEUTRAL_CHROMA:g} are taken to be"
        )
    if neutral < LEAST_NEUTRALS:
        notes.append(
            f"{layout.name} has {neutral} neutral patches: the tone curve rests on its colours, "
            "and figures for tone and white balance are not measured"
        )
    if "flare" not in roles:
        notes.append(
            f"{layout.name} has no dark patch printed both on white and on black: how much light "
            "the scanner scatters over dark places rests on the scan's darkest places and on "
            "what is usual, so the darkest colours are less certain"
        )
    return tuple(notes)
