"""A scaled print against a wrong resolution: what is said, and what is not claimed."""

from __future__ import annotations

from pathlib import Path

import pytest
import tifffile

from colormatch.files.layouts import shipped_layouts
from colormatch.job.checking import check
from colormatch.job.options import CheckOptions
from colormatch.job.scale import scale_advice
from colormatch.verdict import Kind
from demo.strip import shipped_strip
from tests.benchmarks.bench_transfer import KNOWN, OTHER, PLACES, glass, scan_pair

LONG = shipped_layouts()["strip-long"]


def test_a_print_fitted_to_the_page_is_the_likelier_cause() -> None:
    # 97 % is what fitting A4 into margins of 3 mm does: 204/210 (arithmetic).
    words = scale_advice((291.4, 291.4), (300.0, 300.0), LONG)
    assert "probably printed at 97.1 %" in words
    assert "174.8 mm instead of 180 mm (97.1 mm on the rule)" in words
    assert "cannot prove it" in words


@pytest.mark.parametrize(("seen", "stated"), [(601.0, 300.0), (299.5, 72.0), (150.2, 96.0)])
def test_a_wrong_statement_is_the_likelier_cause(seen: float, stated: float) -> None:
    words = scale_advice((seen, seen), (stated, stated), LONG)
    assert "the one in the file is probably wrong" in words
    assert "printed scaled" in words  # the ruler decides all the same


def test_directions_that_differ_are_neither() -> None:
    words = scale_advice((300.0, 306.0), (300.0, 300.0), LONG)
    assert "the two directions differ" in words
    assert "probably" not in words


def test_what_nothing_speaks_for_is_left_open() -> None:
    assert scale_advice((512.0, 512.0), (451.0, 451.0), LONG).startswith("the scan alone")


@pytest.mark.parametrize(
    ("ppi", "stated", "words"),
    [
        (194.0, 200.0, "probably printed at 97.0 %"),
        (200.0, 72.0, "the one in the file is probably wrong"),
    ],
)
def test_check_names_the_cause_in_whole_scans(
    tmp_path: Path, ppi: float, stated: float, words: str
) -> None:
    strips = [shipped_strip("strip-long", ppi=300, serial=name) for name in (KNOWN, OTHER)]
    (path,) = scan_pair(tmp_path, strips[0], strips[1], glass(ppi), places=PLACES[:1])
    pixels = tifffile.imread(path)
    tifffile.imwrite(path, pixels, photometric="rgb", resolution=(stated, stated), resolutionunit=2)
    (tile,) = check([path], CheckOptions()).tiles
    (found,) = (finding for finding in tile.findings if finding.kind is Kind.SCALE)
    assert words in found.next_step
