"""A strip's patches as anchors of the light."""

from __future__ import annotations

import numpy as np

from colormatch.errors import InputError
from colormatch.levelling.records import STRIP_COMMON, Anchors
from colormatch.model import FloatArray

DARKEST_PATCH = 0.03
"""Patches with a channel below this linear light say little about the lamp."""
FEWEST = 4
LEAST_SIGMA = 0.003
MAD_TO_SIGMA = 1.4826


def strip_anchors(
    points: FloatArray, light: FloatArray, wanted: FloatArray, *, common: float = STRIP_COMMON
) -> Anchors:
    """Turn corrected patches into anchors.

    Three channels never show inks exactly, so that each patch is off by some
    percent whatever the light. How much is taken from how the patches scatter
    about a slow course along the strip; patches in random order keep that
    scatter from passing for a course of the light.

    Parameters
    ----------
    points : ndarray of shape (N, 2)
        Patch centres, pixels of the small picture.
    light : ndarray of shape (N, 3)
        Patches as corrected, linear, in the space of the tile's light.
    wanted : ndarray of shape (N, 3)
        What they measure, same space.
    common : float
        Error all of them share, log light, one sigma.

    Returns
    -------
    Anchors
        Of the patches light enough to say something.

    Raises
    ------
    InputError
        If fewer than four are.
    """
    light, wanted = np.asarray(light, dtype=float), np.asarray(wanted, dtype=float)
    with np.errstate(invalid="ignore"):
        usable = np.all((light > DARKEST_PATCH) & (wanted > DARKEST_PATCH), axis=1)
    if usable.sum() < FEWEST:
        raise InputError(
            f"need at least {FEWEST} patches light enough to anchor the light (got "
            f"{int(usable.sum())}); uncover the strip, or level this tile without it"
        )
    points = np.asarray(points, dtype=float)[usable]
    residual = np.log(light[usable]) - np.log(wanted[usable])
    spread = np.abs(residual - _course(points, residual))
    sigma = max(MAD_TO_SIGMA * float(np.median(spread)), LEAST_SIGMA)
    return Anchors(
        points=points, residual=residual, sigma=np.full(len(points), sigma), common=common
    )


def _course(points: FloatArray, residual: FloatArray) -> FloatArray:
    """Linear course of the residuals along the strip's longer side, (N, 3)."""
    apart = points - points.mean(axis=0)
    _, _, axes = np.linalg.svd(apart, full_matrices=False)
    along = apart @ axes[0]
    design = np.column_stack([np.ones(len(along)), along / max(float(np.abs(along).max()), 1e-9)])
    return np.asarray(design @ np.linalg.lstsq(design, residual, rcond=None)[0])
