"""Round dates along an axis."""

from __future__ import annotations

from datetime import date
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from colormatch.reporting.dates import WANTED, date_ticks


@given(first=st.dates(date(1990, 1, 1), date(2100, 1, 1)), length=st.integers(2, 20_000))
def test_ticks_lie_inside_in_order_few_and_named_by_their_day(first: date, length: int) -> None:
    start = first.toordinal()
    found = date_ticks(start, start + length)
    assert 2 <= len(found) <= WANTED + 1
    assert all(start <= day <= start + length for day, _ in found)
    assert all(a < b for (a, _), (b, _) in pairwise(found))
    for day, name in found:
        assert date.fromordinal(day).isoformat().startswith(name)


def test_a_year_and_a_half_is_marked_by_quarters() -> None:
    first, last = date(2025, 1, 6).toordinal(), date(2026, 7, 7).toordinal()
    names = [name for _, name in date_ticks(first, last)]
    assert names == ["2025-04", "2025-07", "2025-10", "2026-01", "2026-04", "2026-07"]
