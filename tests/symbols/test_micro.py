"""The symbol against other makers' encoder and reader."""

from __future__ import annotations

import random

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.symbols.micro import CHARACTERS, LENGTH, QUIET, SIZE, modules, pattern, text_of

TEXTS = st.text(CHARACTERS, min_size=LENGTH, max_size=LENGTH)

SEGNO = {
    "SL1 7F3-K2A": "7f55 4155 5d2c 5d2e 5d6d 411f 7f69 0048 41f3 1dcb 6699 0119 7acc 2c3a 73fa",
    "SS1 ZZZ-99B": "7f55 4159 5d38 5d1e 5d6d 413f 7f40 006c 41cd 081f 7a99 2319 7a44 143a 79ca",
    "S01 2AH-WXC": "7f55 4122 5d7f 5d4e 5d4d 4154 7f1f 004d 436d 1447 7665 0365 5d68 1a0d 5e79",
    "$%*+-./:AZ0": "7f55 412f 5d4b 5d64 5d43 416f 7f00 005f 434b 064e 45b9 1ecf 7eec 1f1d 6d31",
}
"""Rows as hexadecimal numbers, drawn by segno 1.6.6 (version M3, level M), an encoder
of other makers."""


@pytest.mark.parametrize("text", SEGNO)
def test_is_the_symbol_another_encoder_draws(text: str) -> None:
    rows = [f"{int(row, 16):015b}" for row in SEGNO[text].split()]
    assert modules(text).tolist() == [[bit == "1" for bit in row] for row in rows]


def test_another_reader_reads_it() -> None:
    reader = pytest.importorskip("zxingcpp", reason="zxing-cpp is not installed (PyPI)")
    rng = random.Random(5)
    for _ in range(50):
        text = "".join(rng.choices(CHARACTERS, k=LENGTH))
        light = np.pad(~modules(text), QUIET, constant_values=True)
        picture = np.kron(light, np.ones((6, 6))).astype(np.uint8) * 255
        (found,) = reader.read_barcodes(picture)
        assert found.text == text
        assert "Micro" in str(found.format)


@given(TEXTS)
def test_reads_what_it_draws(text: str) -> None:
    symbol = modules(text)
    assert text_of(symbol) == (text, 0)
    fixed, dark = pattern()
    assert (symbol == dark)[fixed].all()


@given(TEXTS, st.integers(9, SIZE - 4), st.integers(1, SIZE - 4))
def test_a_hair_or_a_speck_does_no_harm(text: str, row: int, column: int) -> None:
    symbol = modules(text)
    symbol[row : row + 2, column : column + 3] = True
    symbol[8, 3] ^= True
    read = text_of(symbol)
    assert read is not None
    assert read[0] == text


@given(TEXTS, st.randoms(use_true_random=False))
def test_noise_is_not_read(text: str, rng: random.Random) -> None:
    symbol = modules(text)
    symbol[9:, 1:] = [[rng.random() < 0.5 for _ in range(SIZE - 1)] for _ in range(SIZE - 9)]
    symbol[1:9, 9:] = False
    read = text_of(symbol)
    assert read is None or read[0] != text


@pytest.mark.parametrize("text", ["", "SL1 7F3-K2", "SL1 7F3-K2AB", "sl1 7f3-k2a", "SL1 7F3_K2A"])
def test_refuses_what_it_cannot_hold(text: str) -> None:
    with pytest.raises(ValueError, match="text must be 11 of"):
        modules(text)
