"""What is said of a reference by its kind and its age."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from colormatch.job.reference_findings import reference_findings, stated_day
from colormatch.model import Reference
from colormatch.verdict import Advice, Kind

TODAY = date(2026, 7, 1)


def reference(day: str, kind: str = "measured") -> Reference:
    facts = {"date": day} if day else {}
    return Reference(ids=("A1",), xyz=np.ones((1, 3)), kind=kind, facts=facts)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2025-06-30", date(2025, 6, 30)),
        ("2025-06-30T10:11:12", date(2025, 6, 30)),
        ("2025:06", date(2025, 6, 1)),
        ("30.06.2025", date(2025, 6, 30)),
        ("June 30, 2025", date(2025, 6, 30)),
        ("2025", date(2025, 1, 1)),
        ("not stated", None),
        ("03/04/2025", None),
        ("", None),
    ],
)
def test_days_are_read_in_the_usual_forms(text: str, day: date | None) -> None:
    assert stated_day(text) == day


@pytest.mark.parametrize(
    ("day", "advice"),
    [("2026-01-01", None), ("2025-07-02", None), ("2025-05-01", Advice.USE),
     ("2022-01-01", Advice.CARE), ("not stated", None), ("", None), ("2031-01-01", None)],
)  # fmt: skip
def test_an_old_reference_is_named(day: str, advice: Advice | None) -> None:
    found = reference_findings(reference(day), TODAY)
    assert [f.advice for f in found] == ([] if advice is None else [advice])
    assert all(f.kind is Kind.OLD_REFERENCE and f.unit == "years" for f in found)


def test_carried_over_values_are_not_nominal_and_age_too() -> None:
    assert reference_findings(reference("2026-11-01", "carried over"), date(2026, 11, 25)) == []
    (found,) = reference_findings(reference("2020-11-01", "carried over"), date(2026, 11, 25))
    assert found.kind is Kind.OLD_REFERENCE
    assert "was given values" in found.text


def test_nominal_values_are_named_whatever_their_age() -> None:
    (found,) = reference_findings(reference("2010-01-01", "nominal"), TODAY)
    assert (found.kind, found.advice) == (Kind.NOMINAL_REFERENCE, Advice.USE)
