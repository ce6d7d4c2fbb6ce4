"""Error correction codewords against the standard's example and under damage."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.symbols.codewords import check_words, corrected

WORDS = st.lists(st.integers(0, 255), min_size=9, max_size=9)


def test_are_those_of_the_standards_example() -> None:
    # ISO/IEC 18004:2015, annex I.2: "01234567" as version 1, level M (from memory).
    data = [0x10, 0x20, 0x0C, 0x56, 0x61, 0x80, *[0xEC, 0x11] * 5]
    checks = [0xA5, 0x24, 0xD4, 0xC1, 0xED, 0x36, 0xC7, 0x87, 0x2C, 0x55]
    assert check_words(data, 10) == checks


@given(WORDS, st.dictionaries(st.integers(0, 16), st.integers(1, 255), max_size=4))
def test_up_to_half_as_many_errors_are_put_right(data: list[int], damage: dict[int, int]) -> None:
    sent = [*data, *check_words(data, 8)]
    seen = [word ^ damage.get(i, 0) for i, word in enumerate(sent)]
    assert corrected(seen, 8) == (sent, len(damage))


@given(WORDS, st.dictionaries(st.integers(0, 16), st.integers(1, 255), min_size=5, max_size=17))
def test_what_is_given_back_is_always_a_codeword(data: list[int], damage: dict[int, int]) -> None:
    sent = [*data, *check_words(data, 8)]
    done = corrected([word ^ damage.get(i, 0) for i, word in enumerate(sent)], 8)
    assert done is None or check_words(done[0][:9], 8) == done[0][9:]


@pytest.mark.parametrize("length", [2, 3, 20])
def test_clean_words_of_any_length_need_no_correction(length: int) -> None:
    data = list(range(1, length + 1))
    sent = [*data, *check_words(data, 4)]
    assert corrected(sent, 4) == (sent, 0)
