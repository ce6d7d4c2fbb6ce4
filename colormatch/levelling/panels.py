"""Linear algebra in panels so small that it stays in one thread.

The solves here take milliseconds. A threaded library splits them among
threads that wait for each other in busy loops; on a machine that has other
work they then take up to a hundred times as long. OpenBLAS keeps to one
thread below 262144 multiplications (SMP_THRESHOLD_MIN times
GEMM_MULTITHREAD_THRESHOLD in its interface/gemm.c).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray

PANEL = 48
"""Rows and columns of a panel."""
MOST = 200_000
"""Multiplications in one product."""


def product(a: FloatArray, b: FloatArray) -> FloatArray:
    """Matrix product of (N, C) and (C, D), the rows of ``a`` in chunks."""
    rows = max(1, MOST // max(1, a.shape[1] * b.shape[1]))
    if rows >= len(a):
        return np.asarray(a @ b)
    result = np.empty((len(a), b.shape[1]))
    whole = len(a) // rows * rows
    np.matmul(
        a[:whole].reshape(-1, rows, a.shape[1]),
        b,
        out=result[:whole].reshape(-1, rows, b.shape[1]),
    )
    result[whole:] = a[whole:] @ b
    return result


def gram(a: FloatArray, weights: FloatArray) -> FloatArray:
    """``a.T @ diag(weights) @ a`` for ``a`` of shape (N, C): shape (C, C)."""
    rows, wide = MOST // PANEL**2, a.shape[1]
    padded = np.zeros((_up(len(a), rows), _up(wide, PANEL)))
    padded[: len(a), :wide] = a * np.sqrt(weights)[:, None]
    blocks = padded.reshape(-1, rows, padded.shape[1] // PANEL, PANEL).transpose(2, 0, 1, 3)
    blocks = np.ascontiguousarray(blocks)
    result = np.zeros((padded.shape[1], padded.shape[1]))
    for i, left in enumerate(blocks):
        row = slice(i * PANEL, (i + 1) * PANEL)
        for j, right in enumerate(blocks[: i + 1]):
            column = slice(j * PANEL, (j + 1) * PANEL)
            one = np.matmul(left.transpose(0, 2, 1), right).sum(axis=0)
            result[row, column] = one
            result[column, row] = one.T
    return result[:wide, :wide]


@dataclass(frozen=True, kw_only=True, eq=False)
class Factor:
    """Cholesky factor of a positive definite matrix.

    Attributes
    ----------
    size : int
        Of the matrix.
    panels : ndarray of shape (P, P, PANEL, PANEL)
        Lower triangle by panels; those above the diagonal mean nothing.
    inverses : ndarray of shape (P, PANEL, PANEL)
        Inverses of the factor's panels on the diagonal.
    """

    size: int
    panels: FloatArray
    inverses: FloatArray

    def forward(self, right: FloatArray) -> FloatArray:
        """Solve ``factor @ x = right`` for ``right`` of shape (size, D)."""
        count = len(self.panels)
        x = np.zeros((count, PANEL, right.shape[1]))
        x.reshape(count * PANEL, -1)[: self.size] = right
        for k in range(count):
            x[k] = product(self.inverses[k], x[k])
            for j in range(k + 1, count):
                x[j] -= product(self.panels[j, k], x[k])
        return x.reshape(count * PANEL, -1)[: self.size]

    def solve(self, right: FloatArray) -> FloatArray:
        """Solve ``matrix @ x = right`` for ``right`` of shape (size, D)."""
        count = len(self.panels)
        x = np.zeros((count, PANEL, right.shape[1]))
        x.reshape(count * PANEL, -1)[: self.size] = self.forward(right)
        for k in range(count - 1, -1, -1):
            x[k] = product(self.inverses[k].T, x[k])
            for j in range(k):
                x[j] -= product(self.panels[k, j].T, x[k])
        return x.reshape(count * PANEL, -1)[: self.size]

    def variances(self, rows: FloatArray) -> FloatArray:
        """Variance (N,) of each row's product with unknowns, for rows (N, size)."""
        step = max(1, MOST // PANEL**2)
        parts = [
            np.sum(self.forward(rows[i : i + step].T) ** 2, axis=0)
            for i in range(0, len(rows), step)
        ]
        return np.concatenate(parts) if parts else np.zeros(0)


def factored(matrix: FloatArray) -> Factor:
    """Cholesky factor of a symmetric positive definite matrix.

    Right-looking, by panels: G. Golub, C. Van Loan, "Matrix Computations",
    section 4.2.
    """
    size = len(matrix)
    padded = np.eye(_up(size, PANEL))
    padded[:size, :size] = matrix
    count = len(padded) // PANEL
    panels = padded.reshape(count, PANEL, count, PANEL).transpose(0, 2, 1, 3).copy()
    inverses = np.empty((count, PANEL, PANEL))
    for k in range(count):
        panels[k, k] = np.linalg.cholesky(panels[k, k])
        inverses[k] = np.linalg.inv(panels[k, k])
        below = np.matmul(panels[k + 1 :, k], inverses[k].T)
        panels[k + 1 :, k] = below
        turned = below.transpose(0, 2, 1)
        for i in range(len(below)):
            panels[k + 1 + i, k + 1 : k + 2 + i] -= np.matmul(below[i], turned[: i + 1])
    return Factor(size=size, panels=panels, inverses=inverses)


def _up(count: int, step: int) -> int:
    """Next multiple of ``step``."""
    return -(-count // step) * step
