"""Normal equations, factored in one thread.

The matrices have a few hundred rows. A threaded factorisation waits at every
panel for threads that a busy machine has given away: measured 40 ms against
1 ms. SuperLU (scipy.sparse) works in one.
"""

from __future__ import annotations

import numpy as np

from colormatch.model import FloatArray


class Factor:
    """Symmetric positive definite matrix, factored once."""

    def __init__(self, matrix: FloatArray) -> None:
        from scipy.sparse import csc_array
        from scipy.sparse.linalg import splu

        # Scaled to a unit diagonal: the unknowns are millimetres and radians.
        self.scale = 1.0 / np.sqrt(np.diagonal(matrix))
        unit = matrix * self.scale[:, None] * self.scale
        # Symmetric: what lies by rows here lies by columns there.
        row, column = np.nonzero(unit)
        ends = np.searchsorted(row, np.arange(len(unit) + 1))
        self.factor = splu(
            csc_array((unit[row, column], column, ends), shape=unit.shape),
            permc_spec="MMD_AT_PLUS_A",
            diag_pivot_thresh=0.0,
            options={"SymmetricMode": True},
        )

    def solve(self, right: FloatArray) -> FloatArray:
        """Answer for one right-hand side, (N,)."""
        return np.asarray(self.scale * self.factor.solve(self.scale * right))

    def inverse(self) -> FloatArray:
        """Inverse matrix."""
        unit = self.factor.solve(np.eye(len(self.scale)))
        return np.asarray(unit * self.scale[:, None] * self.scale)

    def log_determinant(self) -> float:
        """Natural logarithm of the determinant."""
        pivots = np.log(np.abs(self.factor.U.diagonal())).sum()
        return float(pivots - 2.0 * np.log(self.scale).sum())
