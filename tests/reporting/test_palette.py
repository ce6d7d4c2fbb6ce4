"""Contrast and colour-blind safety of the page's colours."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.science import colour_science
from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.reporting.palette import DARK, GROUNDS, LIGHT, LINES, variables

PALETTES = [LIGHT, DARK]
AA = 4.5
"""Contrast of text: Web Content Accessibility Guidelines 2.2, success criterion 1.4.3."""


def channels(colour: str) -> np.ndarray:
    return np.array([int(colour[i : i + 2], 16) for i in (1, 3, 5)]) / 255


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it."""
    c = channels(colour)
    linear = np.where(c <= 0.04045, c / 12.92, ((c + 0.055) / 1.055) ** 2.4)
    return float(linear @ (0.2126, 0.7152, 0.0722))


def contrast(a: str, b: str) -> float:
    """Contrast ratio as WCAG 2.2 defines it."""
    light, dark = sorted((luminance(a), luminance(b)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_gives_what_the_guidelines_state() -> None:
    # WCAG 2.2: black on white is 21 to 1.
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("palette", PALETTES, ids=["light", "dark"])
def test_every_colour_can_be_read_on_every_ground(palette: dict[str, str]) -> None:
    inks = [name for name in palette if name not in (*GROUNDS, *LINES)]
    assert len(inks) >= 10
    poor = {
        (ink, ground): contrast(palette[ink], palette[ground])
        for ink in inks
        for ground in GROUNDS
        if contrast(palette[ink], palette[ground]) < AA
    }
    assert poor == {}


@pytest.mark.parametrize("palette", PALETTES, ids=["light", "dark"])
# That full tritanomaly is an approximation is all the warning says.
@pytest.mark.filterwarnings('ignore:"Machado')
@pytest.mark.parametrize("kind", ["Protanomaly", "Deuteranomaly", "Tritanomaly"])
def test_the_two_bars_stay_apart_for_colour_blind_eyes(palette: dict[str, str], kind: str) -> None:
    # Full deficiency by Machado, Oliveira and Fernandes (2009), as colour-science has it.
    seen = colour_science().matrix_cvd_Machado2009(kind, 1.0)
    space = rgb_space("srgb")
    for a, b in combinations(("one", "two"), 2):
        light = [np.clip(seen @ space.decode(channels(palette[n])), 0, 1) for n in (a, b)]
        labs = [lab_from_xyz(rgb @ space.xyz_from_rgb.T) for rgb in light]
        assert float(delta_e_2000(*labs)) > 15


def test_light_and_dark_name_the_same_colours() -> None:
    assert list(LIGHT) == list(DARK)
    assert variables({"ink": "#123456"}) == "--ink:#123456;"
