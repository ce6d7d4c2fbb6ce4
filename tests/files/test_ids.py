"""Spellings of patch ids."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.files.ids import same_id


# Spellings seen in practice: common practice, no source.
@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("A1", "A01"),
        ("A1", "a1"),
        ("A1", '"A 1"'),
        ("A1", " A001 "),
        ("GS0", "GS00"),
        ("1A", "01A"),
        ("7", "007"),
        ("paper  white", "PAPER WHITE"),
    ],
)
def test_spellings_of_one_patch(first: str, second: str) -> None:
    assert same_id(first) == same_id(second)


@pytest.mark.parametrize(
    ("first", "second"),
    [("A1", "A10"), ("A1", "B1"), ("GS0", "GS"), ("1 1", "11"), ("A1.05", "A1.5"), ("10", "1")],
)
def test_different_patches_stay_apart(first: str, second: str) -> None:
    assert same_id(first) != same_id(second)


@given(st.text(max_size=20))
def test_is_its_own_canonical_form(name: str) -> None:
    assert same_id(same_id(name)) == same_id(name)
