"""What a ring mark looks like: its radial profile, and a small picture of it."""

from __future__ import annotations

import numpy as np

from colormatch.errors import LayoutError
from colormatch.model import RING_EDGES, FloatArray, Mark

RIM = 0.9
"""Share of a mark's radius inside which only its own ink and paper are seen."""

SUBPIXELS = 8


def ring_edges(kind: str) -> tuple[FloatArray, FloatArray, float]:
    """Give the edges inside the rim of a mark.

    Parameters
    ----------
    kind : str
        A key of `RING_EDGES`.

    Returns
    -------
    radii : ndarray of shape (E,)
        Rising, as shares of the mark's radius.
    steps : ndarray of shape (E,)
        1 where, going outward, ink turns into paper, -1 where paper turns into ink.
    centre : float
        1 if the mark's centre is paper, 0 if it is ink.
    """
    edges = RING_EDGES[kind]
    inner = [(edge, 1.0 if i % 2 == 0 else -1.0) for i, edge in enumerate(edges) if edge < RIM]
    # Listed from outside in: the first is where, going inward, ink begins.
    radii, steps = np.array(inner[::-1]).T
    return radii, steps, 0.0 if steps[0] > 0 else 1.0


def check_kinds(marks: tuple[Mark, ...], layout_name: str) -> None:
    """Refuse marks that cannot be looked for.

    Raises
    ------
    LayoutError
        If a mark's kind is not one of `RING_EDGES`.
    """
    for mark in marks:
        if mark.kind not in RING_EDGES:
            known = ", ".join(sorted(RING_EDGES))
            raise LayoutError(
                f"layout {layout_name}: mark {mark.id} has the unknown kind {mark.kind!r}: "
                f"known are {known}"
            )


def eye_template(radius: float) -> tuple[FloatArray, FloatArray]:
    """Draw an "eye" and the disc it fills; a "hoop" is its negative.

    Parameters
    ----------
    radius : float
        Pixels.

    Returns
    -------
    template, disc : ndarray of float32, shape (S, S), S odd
        Paper and disc shares of each pixel, by sub-sampling, slightly blurred.
    """
    half = int(np.ceil(radius))
    fine = (np.arange((2 * half + 1) * SUBPIXELS) + 0.5) / SUBPIXELS - half - 0.5
    share = np.hypot(fine[:, None], fine[None, :]) / radius
    radii, steps, centre = ring_edges("eye")
    paper = centre + (steps * (share[..., None] > radii)).sum(axis=-1)
    return _coarse(paper * (share < 1)), _coarse((share < 1).astype(float))


def _coarse(fine: FloatArray) -> FloatArray:
    size = len(fine) // SUBPIXELS
    blocks = fine.reshape(size, SUBPIXELS, size, SUBPIXELS)
    return np.asarray(blocks.mean(axis=(1, 3)), np.float32)
