"""The compiled loops, if they were built.

They are an option, never a need: whoever calls one has another way that gives the
same within rounding, a few times slower.
"""

from __future__ import annotations

import ctypes
from functools import cache
from importlib.machinery import EXTENSION_SUFFIXES
from pathlib import Path
from typing import Any

from numpy.typing import NDArray

STEM = "_loops"


def available() -> bool:
    """Tell whether the loops were built."""
    return _library() is not None


def loops() -> ctypes.CDLL:
    """Give the compiled loops; calls into them let other threads run meanwhile.

    Raises
    ------
    RuntimeError
        If they were not built; see `available`.
    """
    library = _library()
    if library is None:
        raise RuntimeError("the compiled loops were not built")
    return library


@cache
def _library() -> ctypes.CDLL | None:
    for suffix in EXTENSION_SUFFIXES:
        path = Path(__file__).with_name(STEM + suffix)
        if path.exists():
            try:
                return ctypes.CDLL(str(path))
            except OSError:
                # Built for another machine: as good as none.
                return None
    return None


def address(values: NDArray[Any]) -> ctypes.c_void_p:
    """Where an array's values begin, for a loop; the array must be contiguous."""
    return ctypes.c_void_p(values.ctypes.data)
