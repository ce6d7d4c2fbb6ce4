"""Splitting one direction: nothing is left out, and neighbours share enough."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from colormatch.planning.splitting import Room, parts_needed, split

lengths = st.floats(10.0, 3000.0)
overlaps = st.floats(1.0, 120.0)


@st.composite
def glasses(draw: st.DrawFn) -> Room:
    start = draw(st.floats(0.0, 40.0))
    end = start + draw(st.floats(80.0, 450.0))
    return Room(
        start=start, end=end, before=draw(st.floats(0.0, 40.0)), after=draw(st.floats(0.0, 40.0))
    )


@given(length=lengths, room=glasses(), overlap=overlaps)
def test_parts_cover_the_length_share_enough_and_lie_on_the_glass(
    length: float, room: Room, overlap: float
) -> None:
    count = parts_needed(length, room, overlap)
    assume(count is not None)
    assert count is not None
    parts = split(length, room, overlap, count)
    assert len(parts) == count
    assert parts[0].first == 0.0
    assert parts[-1].last == length
    for one, other in pairwise(parts):
        assert one.first < other.first < one.last < other.last
        assert one.last - other.first >= overlap - 1e-6
    for part in parts:
        assert part.origin + part.first >= room.start - 1e-6
        assert part.origin + part.last <= room.end + 1e-6
    assert parts[0].origin >= room.start + room.before - 1e-6
    assert parts[-1].origin + length <= room.end - room.after + 1e-6


@given(length=lengths, room=glasses(), overlap=overlaps)
def test_no_smaller_number_of_parts_would_do(length: float, room: Room, overlap: float) -> None:
    count = parts_needed(length, room, overlap)
    assume(count is not None and count > 1)
    assert count is not None
    whole, ends = room.end - room.start, room.before + room.after
    # What count - 1 parts reach at most, laid out by hand.
    most = (count - 1) * whole - ends - (count - 2) * overlap
    assert most < length + 1e-6


def test_a_length_that_fits_is_not_split() -> None:
    room = Room(start=25.0, end=297.0, before=5.0, after=27.0)
    assert parts_needed(240.0, room, 30.0) == 1
    assert parts_needed(240.1, room, 30.0) == 2


def test_an_overlap_that_leaves_nothing_new_has_no_split() -> None:
    room = Room(start=0.0, end=100.0, before=20.0, after=5.0)
    assert parts_needed(500.0, room, 80.0) is None


def test_spare_room_goes_to_the_overlap_up_to_a_share_and_then_to_smaller_parts() -> None:
    room = Room(start=0.0, end=216.0, before=5.0, after=5.0)
    one, other = split(210.0, room, 30.0, 2)
    # 30 % of the length, which is less than of the parts' 211 mm.
    assert one.last - other.first == pytest.approx(63.0)
    assert one.last - one.first == pytest.approx(other.last - other.first)
    # The inner side of each lies at the edge of the glass.
    assert one.origin + one.last == 216.0
    assert other.origin + other.first == 0.0
