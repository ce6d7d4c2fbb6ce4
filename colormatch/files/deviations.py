"""Standard deviations that a file states beside its colours."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from colormatch.errors import ReferenceFileError
from colormatch.files.tables import Table, numbers
from colormatch.model import FloatArray

DEVIATION = "STDEV_DE"
"""The standard's column for the standard deviation of colours; ours states ΔE2000."""

LARGEST = 50.0
"""ΔE2000; beyond it the column means something else."""


def deviations(table: Table, ids: Sequence[str]) -> tuple[FloatArray, tuple[str, ...]]:
    """Read the standard deviations, if there is a column of them.

    Parameters
    ----------
    table : Table
        Its columns in the standard's spelling.
    ids : sequence of str
        Patch names, one for each row, for messages.

    Returns
    -------
    sigma : ndarray of shape (rows,)
        ΔE2000; NaN where none is stated.
    notes : tuple of str
        Why a column was left out.
    """
    unknown = np.full(len(ids), np.nan)
    if DEVIATION not in table.columns:
        return unknown, ()
    try:
        values, notes = numbers(table, [table.columns.index(DEVIATION)], ids)
    except ReferenceFileError as error:
        return unknown, (f"the column {DEVIATION} is faulty and was left out: {error}",)
    if (values < 0).any() or (values > LARGEST).any():
        return unknown, (f"the column {DEVIATION} is out of range and was left out",)
    return values[:, 0], notes
