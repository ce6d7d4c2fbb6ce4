"""The colour-science library, imported late and without its chatter.

Importing it costs about half a second and warns of optional packages that this
project does not use; both are kept away from whoever does not need it.
"""

from __future__ import annotations

import warnings
from functools import cache
from importlib import import_module
from typing import Any


@cache
def colour_science() -> Any:
    """Import colour-science on first use and give the module."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return import_module("colour")
