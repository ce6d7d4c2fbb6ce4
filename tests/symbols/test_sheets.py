"""Designs and serials."""

from __future__ import annotations

import pytest

from colormatch.symbols.micro import CHARACTERS, LENGTH
from colormatch.symbols.sheets import (
    COPIES,
    SERIAL_CHARACTERS,
    is_page,
    is_serial,
    parsed,
    random_page,
    same_page,
    sheet_text,
)


def test_a_page_drawn_by_lot_gives_serials_that_the_symbol_holds() -> None:
    pages = {random_page() for _ in range(200)}
    assert len(pages) > 195
    for page in pages:
        assert is_page(page)
        text = sheet_text("SL1", f"{page}{COPIES[0]}")
        assert len(text) == LENGTH
        assert set(text) <= set(CHARACTERS)
        assert parsed(text) == ("SL1", f"{page}A")


def test_no_character_is_easily_taken_for_another() -> None:
    assert not set("01ILOU") & set(SERIAL_CHARACTERS + COPIES)


@pytest.mark.parametrize("text", ["7F3K2A", "7F3-K2", "7f3-k2a", "7F3-K2I", "7F3-K2A ", "7F3-K2AB"])
def test_other_texts_are_no_serial(text: str) -> None:
    assert not is_serial(text)
    with pytest.raises(ValueError, match="serial like 7F3-K2A"):
        sheet_text("SL1", text)


@pytest.mark.parametrize("text", ["SL17F3-K2A ", "7F3-K2A SL1", "SL1-7F3-K2A", "SL1 7F3 K2A", ""])
def test_other_texts_name_no_sheet(text: str) -> None:
    assert parsed(text) is None


def test_copies_of_one_page_are_known_as_such() -> None:
    assert same_page("7F3-K2A", "7F3-K2B")
    assert not same_page("7F3-K2A", "7F3-K3A")
