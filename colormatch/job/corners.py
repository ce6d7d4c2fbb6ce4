"""Corners of a chart that the user points out: whose they are, and what is meant."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from pathlib import Path

import numpy as np

from colormatch.errors import InputError
from colormatch.job.options import CheckOptions
from colormatch.model import FloatArray

NUMBER = r"[-+]?(?:\d+\.?\d*|\.\d+)"
FORM = re.compile(rf"\s*(?:(?P<scan>.*?)=)?\s*(?P<points>{NUMBER}(?:[\s,;]+{NUMBER})*)\s*")
EXAMPLE = '--corners "120,88 1540,92 1536,560 118,555"'


def given_corners(options: CheckOptions, paths: Sequence[Path]) -> Mapping[Path, FloatArray]:
    """Read the corners the user gave, scan by scan.

    Parameters
    ----------
    options : CheckOptions
        ``corners``: each ``"x,y x,y x,y x,y"``, or the same after ``"SCAN="``.
    paths : sequence of Path
        The scans, as given.

    Returns
    -------
    mapping of Path to ndarray of shape (4, 2)
        Only scans for which corners were given.

    Raises
    ------
    InputError
        If corners are no eight numbers, or do not say which scan they are for.
    """
    if options.corners and options.layout is None:
        raise InputError(
            "--corners says where a chart lies but not what is on it: give --layout FILE too"
        )
    found: dict[Path, FloatArray] = {}
    for text in options.corners:
        scan, points = _points(text)
        path = _meant(scan, paths, text)
        if path in found:
            raise InputError(f"--corners is given twice for {path}: give it once for each scan")
        found[path] = points
    return found


def _points(text: str) -> tuple[str | None, FloatArray]:
    """Split off the scan's name, and read four points."""
    match = FORM.fullmatch(text)
    numbers = re.findall(NUMBER, match["points"]) if match else []
    if match is None or len(numbers) != 8:
        count = f"{len(numbers)} numbers" if match else "something else"
        raise InputError(
            f"--corners needs four points in pixels of the scan, x,y each ({count} in {text!r}): "
            f"write it like {EXAMPLE}"
        )
    return match["scan"], np.array(numbers, dtype=np.float64).reshape(4, 2)


def _meant(scan: str | None, paths: Sequence[Path], text: str) -> Path:
    """Give the scan that corners are for."""
    if scan is None:
        if len(set(paths)) == 1:
            return paths[0]
        raise InputError(
            f"--corners {text!r} does not say for which of the {len(paths)} scans it is: write "
            f'the name first, --corners "{paths[0].name}={text.strip()}", once for each scan'
        )
    name = scan.strip()
    meant = sorted({path for path in paths if name in (str(path), path.name)})
    if len(meant) == 1:
        return meant[0]
    if meant:
        raise InputError(
            f"--corners: several scans are called {name!r}: give the whole path before the ="
        )
    known = ", ".join(path.name for path in paths[:6]) + (", …" if len(paths) > 6 else "")
    raise InputError(f"--corners: no scan given is called {name!r}: there are {known}")
