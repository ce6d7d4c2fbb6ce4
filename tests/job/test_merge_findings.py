"""What a merge says of its tiles, in a rendered job with one known fault."""

from __future__ import annotations

from types import SimpleNamespace
from typing import cast

import pytest

from colormatch.job.merge_findings import _soft_places, _Where
from colormatch.job.merging import merge
from colormatch.job.options import MergeOptions
from colormatch.joining.records import Remark
from colormatch.verdict import Advice, Box, JobReport, Kind
from demo.fault_records import with_tile
from demo.jobs import render, sound_job
from demo.presets import GLASS
from demo.settings import Crease

PPI = 100.0


@pytest.fixture(scope="module")
def folded(tmp_path_factory: pytest.TempPathFactory) -> JobReport:
    """Two tiles, the second with a fold 30 mm below the painting's top."""
    folder = tmp_path_factory.mktemp("folded")
    job = sound_job("coast", seed=3, tiles=2, ppi=PPI)
    crease = Crease(side="top", distance=30.0, depth=0.31, bright=0.1, reach=3.0)
    files = render(with_tile(job, 1, crease=crease), folder)
    options = MergeOptions(reference=files.reference, out=folder / "joined.tif")
    return merge(files.scans, options)


def test_a_fold_is_told_of_the_tile_that_has_it_and_where(folded: JobReport) -> None:
    first, second = folded.tiles
    assert not any(f.kind is Kind.EDGE_SHADOW for f in first.findings)
    shadows = [f for f in second.findings if f.kind is Kind.EDGE_SHADOW]
    assert shadows
    x, y, width, height = shadows[0].places[0]
    # The job lays the painting's top 4 mm below the glass's; the fold 30 mm farther. It is dark
    # on one side, for up to three times its reach of 3 mm: it lies at an edge of its shadow.
    assert min(abs(edge - 34) for edge in (y, y + height)) < 1.5
    assert height < 12
    assert 0 <= x < x + width < GLASS[0] / 2
    assert "tile-1" in shadows[0].text


class Scans:
    """Scans as large as the painting, at 254 ppi."""

    placement = SimpleNamespace(ppi=254.0)

    def box(self, name: str, box: Box) -> Box:
        assert name == "a.tif"
        return box


def soft(kind: str, place: tuple[float, float], blur: float) -> Remark:
    return Remark(
        kind=kind,
        tiles=("a.tif",),
        place=place,
        size=(8.0, 6.0),
        depth=blur,
        reason="",
        text="",
    )


def test_soft_places_of_a_tile_are_told_together_apart_from_those_off_the_glass() -> None:
    remarks = [soft("softer", (20, 30), 1.0), soft("lifted", (90, 9), 4.0)]
    remarks += [soft("softer", (50, 60), 2.0), soft("shadow", (5, 5), 0.1)]
    found = list(_soft_places(remarks, cast(_Where, Scans())))
    assert [name for name, _ in found] == ["a.tif"] * 2
    mild, lifted = (finding for _, finding in found)
    assert (mild.advice, lifted.advice) == (Advice.USE, Advice.CARE)
    assert mild.places == ((16, 27, 8, 6), (46, 57, 8, 6))
    # A pixel is 0.1 mm.
    assert mild.measure == pytest.approx(0.2)
    assert "at 20, 30 mm" in mild.text
    assert "and at 1 more place the" in mild.text
    assert "up to 0.20 mm" in mild.text
    assert "more place" not in lifted.text
    assert "about 0.40 mm" in lifted.text
