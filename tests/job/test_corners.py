"""Corners as the user writes them."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.job.corners import given_corners
from colormatch.job.options import CheckOptions

LEFT, RIGHT = Path("scans/left.tif"), Path("scans/right=2.tif")
POINTS = "120,88 1540,92 1536.5,560 118,555"


def read(*corners: str, paths: tuple[Path, ...] = (LEFT, RIGHT)) -> dict[Path, list[list[float]]]:
    options = CheckOptions(layout=Path("chart.toml"), corners=corners)
    return {path: points.tolist() for path, points in given_corners(options, paths).items()}


@pytest.mark.parametrize(
    "text", [POINTS, POINTS.replace(" ", ";"), POINTS.replace(" ", " , "), f"  {POINTS} "]
)
def test_one_scan_needs_no_name(text: str) -> None:
    expected = [[120, 88], [1540, 92], [1536.5, 560], [118, 555]]
    assert read(text, paths=(LEFT,)) == {LEFT: expected}


def test_several_scans_are_named_by_file_or_by_path() -> None:
    found = read(f"left.tif={POINTS}", f"scans/right=2.tif = {POINTS}")
    assert list(found) == [LEFT, RIGHT]
    assert np.array(found[RIGHT]).shape == (4, 2)


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        ((POINTS,), "does not say for which of the 2 scans it is: write the name first"),
        (("left.tif=1,2 3,4",), "needs four points in pixels of the scan, x,y each (4 numbers"),
        (("left.tif=1,2,3,4,5,6,7,b",), "(something else in 'left.tif=1,2,3,4,5,6,7,b')"),
        (("",), "needs four points"),
        ((f"middle.tif={POINTS}",), "no scan given is called 'middle.tif': there are left.tif"),
        ((f"left.tif={POINTS}", f"left.tif={POINTS}"), "given twice for scans/left.tif"),
    ],
)
def test_what_cannot_be_meant_is_refused(corners: tuple[str, ...], words: str) -> None:
    with pytest.raises(InputError, match=re.escape(words)):
        read(*corners)


def test_two_scans_of_one_name_need_their_paths() -> None:
    with pytest.raises(InputError, match=r"several scans are called 'left\.tif': give the whole"):
        read(f"left.tif={POINTS}", paths=(LEFT, Path("other/left.tif")))


def test_corners_without_a_layout_are_refused() -> None:
    with pytest.raises(InputError, match="--corners says where a chart lies but not what is on it"):
        given_corners(CheckOptions(corners=(POINTS,)), [LEFT])
