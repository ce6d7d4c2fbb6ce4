"""How grave what one scan shows is, and in which words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from colormatch.inspecting.records import Inspected, Noticed
from colormatch.job.scan_findings import scan_findings
from colormatch.verdict import Advice, Finding, Kind


def noticed(measure: float, limit: float, count: int = 3) -> Noticed:
    return Noticed(measure=measure, limit=limit, places=((10.0, 20.0, 3.0, 4.0),), count=count)


CLEAN = Inspected(
    clipped=noticed(0.0, 0.1), blocked=noticed(0.0, 0.1), halo=noticed(0.2, 6.0),
    noise=noticed(0.3, 2.0), streaks=noticed(0.0, 0.6), banding=noticed(0.0, 0.5),
    glare=noticed(0.0, 3.3), dust=noticed(3.0, 15.0), bits=16, dark_step=noticed(0.01, 1.0),
    quality=None, blocks=noticed(0.01, 0.2), bend=noticed(0.02, 0.12),
    lifted=noticed(0.0, 0.1), range_used=noticed(70.0, 98.0),
)  # fmt: skip


def only(seen: Inspected) -> Finding:
    (found,) = scan_findings(seen)
    return found


def test_a_clean_scan_has_no_findings() -> None:
    assert scan_findings(CLEAN) == []


def test_what_could_not_be_measured_is_no_fault() -> None:
    assert scan_findings(replace(CLEAN, halo=None, noise=None, dust=None, bend=None)) == []


@pytest.mark.parametrize(
    ("field", "measure", "limit", "kind", "advice"),
    [
        ("clipped", 0.2, 0.1, Kind.CLIPPED, Advice.CARE),
        ("clipped", 4.0, 0.1, Kind.CLIPPED, Advice.RESCAN),
        ("blocked", 0.2, 0.1, Kind.BLOCKED, Advice.CARE),
        ("blocked", 4.0, 0.1, Kind.BLOCKED, Advice.RESCAN),
        ("halo", 7.0, 6.0, Kind.SHARPENED, Advice.CARE),
        ("halo", 12.0, 6.0, Kind.SHARPENED, Advice.RESCAN),
        # FADGI 2016: 3-star ends at 2 L*, 1-star at 4.
        ("noise", 2.1, 2.0, Kind.NOISE, Advice.CARE),
        ("noise", 4.1, 2.0, Kind.NOISE, Advice.RESCAN),
        ("streaks", 1.0, 0.6, Kind.STREAKS, Advice.USE),
        ("streaks", 3.0, 0.6, Kind.STREAKS, Advice.CARE),
        ("banding", 0.7, 0.5, Kind.BANDING, Advice.USE),
        ("banding", 1.5, 0.5, Kind.BANDING, Advice.CARE),
        ("glare", 5.0, 3.3, Kind.GLARE, Advice.USE),
        ("glare", 40.0, 3.3, Kind.GLARE, Advice.CARE),
        ("dust", 18.0, 15.0, Kind.DUST, Advice.USE),
        ("dust", 60.0, 15.0, Kind.DUST, Advice.CARE),
        ("bend", 0.3, 0.12, Kind.STRIP_BENT, Advice.CARE),
        ("range_used", 99.5, 98.0, Kind.OTHER_EXPOSURE, Advice.USE),
        ("lifted", 0.105, 0.1, Kind.OFF_GLASS, Advice.USE),
        ("lifted", 0.2, 0.1, Kind.OFF_GLASS, Advice.CARE),
        ("blocks", 0.5, 0.2, Kind.LOSSY, Advice.CARE),
    ],
)
def test_each_measure_has_its_kind_and_grade(
    field: str, measure: float, limit: float, kind: Kind, advice: Advice
) -> None:
    found = only(replace(CLEAN, **{field: noticed(measure, limit)}))  # type: ignore[arg-type]
    assert (found.kind, found.advice) == (kind, advice)
    assert found.measure is not None
    assert found.limit is not None
    assert found.measure > found.limit
    assert found.unit
    assert found.next_step


@pytest.mark.parametrize(
    ("quality", "advice"), [(95.0, Advice.USE), (85.0, Advice.CARE), (40.0, Advice.RESCAN)]
)
def test_a_jpeg_is_judged_by_its_quality(quality: float, advice: Advice) -> None:
    found = only(replace(CLEAN, quality=quality))
    assert (found.kind, found.advice, found.measure) == (Kind.LOSSY, advice, quality)


def test_eight_bits_are_enough_to_look_at_unless_the_darks_step() -> None:
    fine = only(replace(CLEAN, bits=8, dark_step=noticed(0.6, 1.0)))
    coarse = only(replace(CLEAN, bits=8, dark_step=noticed(3.5, 1.0)))
    assert (fine.advice, coarse.advice) == (Advice.USE, Advice.CARE)
    assert "3.5 L*" in coarse.text


def test_what_may_be_paint_is_a_hint() -> None:
    assert only(replace(CLEAN, glare=noticed(40.0, 3.3))).hint
    assert only(replace(CLEAN, blocks=noticed(0.5, 0.2))).hint
    assert only(replace(CLEAN, lifted=noticed(0.2, 0.1))).hint
    assert only(replace(CLEAN, range_used=noticed(99.5, 98.0))).hint
    assert not only(replace(CLEAN, halo=noticed(12.0, 6.0))).hint
