"""Region files: what is read, and what each slip is answered with."""

from __future__ import annotations

from pathlib import Path

import pytest

from colormatch.errors import InputError
from colormatch.files.regions import parse_regions, read_regions
from colormatch.model import KeptRegion, Regions, WholeBox

TILES = ("left.tif", "right.tif")
GOOD = """
[[keep]]
tile = "left.tif"
polygon = [[10, 10], [60, 10.5], [60, 45]]

[[whole]]
box = [120, 80, 40.5, 30]

[[keep]]
tile = "right.tif"
polygon = [[0, 0], [1, 0], [1, 1], [0, 1]]
"""


def test_regions_come_in_file_order(tmp_path: Path) -> None:
    path = tmp_path / "regions.toml"
    path.write_text(GOOD)
    assert read_regions(path, TILES) == Regions(
        keep=(
            KeptRegion(
                tile="left.tif",
                polygon=((10, 10), (60, 10.5), (60, 45)),
                where=f"{path}: keep 1",
            ),
            KeptRegion(
                tile="right.tif",
                polygon=((0, 0), (1, 0), (1, 1), (0, 1)),
                where=f"{path}: keep 2",
            ),
        ),
        whole=(WholeBox(box=(120, 80, 40.5, 30), where=f"{path}: whole 1"),),
    )


KEEP = "[[keep]]\ntile = 'left.tif'\n"


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "has no [[keep]] and no [[whole]] entry"),
        ("[[keep]", "not a TOML file"),
        ("keep = 3", "write [[keep]], with two brackets"),
        ("[whole]\nbox = [1,1,1,1]", "write [[whole]], with two brackets"),
        ("[[kept]]\ntile = 'a'", "unknown key 'kept': did you mean 'keep'?"),
        (KEEP + "poligon = []", "keep 1: unknown key 'poligon': did you mean 'polygon'?"),
        (KEEP, "keep 1: lacks"),
        (KEEP + "polygon = [[1, 1], [2, 2]]", "keep 1: a polygon needs 3 corners or more (got 2)"),
        (KEEP + "polygon = [[1, 1], [2, 2], [3, 3]]", "keep 1: the polygon encloses no area"),
        (KEEP + "polygon = [[1, 1], [2, nan], [3, 0]]", "keep 1: corners must be finite"),
        (KEEP + "polygon = [[1, 1], [2, 'a'], [3, 0]]", "keep 1, polygon: expected a number"),
        (KEEP + "polygon = [[1, 1], [2], [3, 0]]", "keep 1, polygon: expected"),
        (
            "[[keep]]\ntile='lefd.tif'\npolygon=[[0,0],[1,0],[1,1]]",
            "keep 1: no scan is called 'lefd.tif': did you mean 'left.tif'?",
        ),
        (
            "[[keep]]\ntile='x'\npolygon=[[0,0],[1,0],[1,1]]",
            "no scan is called 'x': there are left.tif, right.tif",
        ),
        ("[[whole]]\nbox = [1, 2, 3]", "whole 1, box: expected"),
        ("[[whole]]\nbox = [1, 2, 3, 0]", "whole 1: width and height must be above 0 mm"),
        ("[[whole]]\nbox = [1, 2, inf, 1]", "whole 1: box must be four finite numbers"),
    ],
)
def test_a_slip_is_named_with_its_place(text: str, message: str) -> None:
    with pytest.raises(InputError) as caught:
        parse_regions(text.encode(), TILES, "r.toml")
    assert str(caught.value).startswith("r.toml: ")
    assert message in str(caught.value)


def test_files_that_are_no_text_or_not_there_are_refused(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="not a text file in UTF-8"):
        parse_regions(b"\xff\xfe", TILES, "r.toml")
    with pytest.raises(InputError, match="cannot read the regions"):
        read_regions(tmp_path / "none.toml", TILES)
