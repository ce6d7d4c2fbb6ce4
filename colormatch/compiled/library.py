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
VERSION = 2
"""That of the calls, as in the C files: loops left from before an update are not called."""


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
                found = ctypes.CDLL(str(path))
                version = ctypes.c_int.in_dll(found, "loops_version").value
            except (OSError, ValueError):
                # Built for another machine, or long ago: as good as none.
                return None
            return found if version == VERSION else None
    return None


def address(values: NDArray[Any]) -> ctypes.c_void_p:
    """Where an array's values begin, for a loop; the array must be contiguous."""
    return ctypes.c_void_p(values.ctypes.data)
