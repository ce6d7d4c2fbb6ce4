"""Transfer curves."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import numpy as np
import pytest
from numpy.typing import ArrayLike

from colormatch.colour import transfer
from colormatch.colour.science import colour_science
from colormatch.model import FloatArray
from colormatch.standards import OPRGB_EXPONENT

Curve = Callable[[ArrayLike], FloatArray]
PAIRS: list[tuple[Curve, Curve]] = [
    (transfer.decode_srgb, transfer.encode_srgb),
    (transfer.decode_oprgb, transfer.encode_oprgb),
]
GRID = np.linspace(0, 1, 4097)


def test_srgb_agrees_with_colour_science() -> None:
    # Source: colour-science, which states the constants of IEC 61966-2-1.
    models = colour_science().models
    np.testing.assert_allclose(transfer.decode_srgb(GRID), models.eotf_sRGB(GRID), atol=1e-12)
    np.testing.assert_allclose(
        transfer.encode_srgb(GRID), models.eotf_inverse_sRGB(GRID), atol=1e-12
    )


def test_oprgb_agrees_with_colour_science() -> None:
    # Source: colour-science, "Adobe RGB (1998)", the same curve as IEC 61966-2-5.
    space = colour_science().RGB_COLOURSPACES["Adobe RGB (1998)"]
    np.testing.assert_allclose(transfer.decode_oprgb(GRID), space.cctf_decoding(GRID), atol=1e-12)
    np.testing.assert_allclose(transfer.encode_oprgb(GRID), space.cctf_encoding(GRID), atol=1e-12)


def test_oprgb_exponent_is_the_published_fraction() -> None:
    # Source: Adobe RGB (1998) colour image encoding, version 2005-05: 2 51/256.
    assert Fraction(OPRGB_EXPONENT) == 2 + Fraction(51, 256)


@pytest.mark.parametrize(("decode", "encode"), PAIRS)
def test_round_trip_head_room_and_odd_symmetry(decode: Curve, encode: Curve) -> None:
    light = np.linspace(-2, 4, 1201)
    # The two published ends of the sRGB toe do not meet exactly: 1e-6 apart.
    np.testing.assert_allclose(decode(encode(light)), light, atol=2e-7)
    np.testing.assert_array_equal(encode(-light), -encode(light))
    np.testing.assert_array_equal(decode(-light), -decode(light))
    assert decode(encode(3.0)) == pytest.approx(3.0, abs=1e-12)


@pytest.mark.parametrize("curve", [curve for pair in PAIRS for curve in pair])
def test_rises_everywhere_and_keeps_its_ends(curve: Curve) -> None:
    values = curve(np.linspace(-1.5, 1.5, 65537))
    assert (np.diff(values) > 0).all()
    np.testing.assert_allclose(curve([0.0, 1.0]), [0.0, 1.0], atol=1e-12)


@pytest.mark.parametrize("curve", [curve for pair in PAIRS for curve in pair])
def test_float32_stays_and_integers_become_float64(curve: Curve) -> None:
    assert curve(np.ones((2, 3), np.float32)).dtype == np.float32
    assert curve(np.ones((2, 3), np.uint8)).dtype == np.float64
    np.testing.assert_allclose(curve(GRID.astype(np.float32)), curve(GRID), atol=3e-7)
