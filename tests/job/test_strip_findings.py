"""What is said of dirt on a strip: figures counted by hand."""

from __future__ import annotations

import pytest

from colormatch.job.strip_findings import MANY_SOILED, _both
from colormatch.verdict import Advice, Finding, Kind


def dirt(text: str, share: float, advice: Advice) -> Finding:
    return Finding(
        kind=Kind.STRIP_COVERED,
        advice=advice,
        text=text,
        next_step="wipe the strip and the glass",
        measure=share,
        unit="% of the patches",
        places=((1.0, 2.0, 3.0, 4.0),),
    )


LOST = dirt("2 of 65 patches were left out", 2 / 65 * 100, Advice.CARE)
SPOTTED = dirt("spots lie on 7 of 65 patches", 7 / 65 * 100, Advice.CARE)


def test_lost_and_spotted_patches_are_told_together() -> None:
    both = _both(LOST, SPOTTED)
    assert both is not None
    assert "2 of 65" in both.text
    assert "7 of 65" in both.text
    assert both.measure == pytest.approx(9 / 65 * 100)
    assert both.advice is Advice.CARE
    assert len(both.places) == 2


def test_much_dirt_of_either_kind_asks_for_another_scan() -> None:
    more = dirt("spots lie on 8 of 65 patches", 8 / 65 * 100, Advice.CARE)
    both = _both(LOST, more)
    assert both is not None
    assert MANY_SOILED < 10 / 65
    assert both.advice is Advice.RESCAN


def test_one_kind_alone_stays_as_it_is() -> None:
    assert _both(LOST, None) is LOST
    assert _both(None, SPOTTED) is SPOTTED
    assert _both(None, None) is None
