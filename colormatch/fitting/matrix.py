"""The 3x3 from linear scanner RGB to XYZ, weighted by what the eye sees."""

from __future__ import annotations

import numpy as np

from colormatch.model import FloatArray


def matrix_design(rgb: FloatArray, roots: FloatArray) -> FloatArray:
    """Rows of the linear system whose nine unknowns are the matrix, row by row.

    Parameters
    ----------
    rgb : ndarray of shape (N, 3)
        Linear light.
    roots : ndarray of shape (N, 3, 3)
        Per patch, what turns a small XYZ error into CIEDE2000 units.

    Returns
    -------
    ndarray of shape (N, 3, 9)
    """
    design: FloatArray = np.einsum("nir,nc->nirc", roots, rgb).reshape(len(rgb), 3, 9)
    return design


def solve_matrix(rgb: FloatArray, xyz: FloatArray, roots: FloatArray) -> FloatArray:
    """Fit ``xyz_from_rgb`` by one weighted linear least-squares solve.

    No offset: black stays black, and a brighter exposure of the same patches
    scales the result and nothing else.

    Parameters
    ----------
    rgb, xyz : ndarray of shape (N, 3)
        Linear light and reference, Y of the perfect diffuser 1.
    roots : ndarray of shape (N, 3, 3)
        As in `matrix_design`; scale a patch's root to weight it.

    Returns
    -------
    ndarray of shape (3, 3)
        ``xyz_from_rgb``, used as ``rgb @ xyz_from_rgb.T``.
    """
    design = matrix_design(rgb, roots).reshape(-1, 9)
    wanted = np.einsum("nij,nj->ni", roots, xyz).reshape(-1)
    solved = np.linalg.lstsq(design, wanted, rcond=None)[0]
    matrix: FloatArray = solved.reshape(3, 3)
    return matrix


def spans_colour(rgb: FloatArray) -> bool:
    """Whether readings differ in three dimensions, not along a grey scale only."""
    scaled = rgb / np.linalg.norm(rgb, axis=0)
    values = np.linalg.svd(scaled, compute_uv=False)
    return bool(values[-1] > 0.02 * values[0])
