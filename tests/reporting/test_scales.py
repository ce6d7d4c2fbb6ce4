"""The maps' tints: sorted right, told apart by colour-blind eyes, and in the file as meant."""

from __future__ import annotations

import base64
import io
from itertools import pairwise

import numpy as np
import pytest
from PIL import Image

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.science import colour_science
from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.reporting.scales import (
    CHANGE,
    DIFFERENCE,
    NOTHING,
    Scale,
    classes_uri,
    legend,
    rgba,
)
from tests.reporting.reading import drawn

SCALES = [DIFFERENCE, CHANGE]
NAMES = ["difference", "change"]
KINDS = (None, "Protanomaly", "Deuteranomaly", "Tritanomaly")
APART = 5.0
"""ΔE2000 between neighbouring tints: several times what can just be seen."""


def labs(tints: tuple[str, ...], kind: str | None) -> list[np.ndarray]:
    space = rgb_space("srgb")
    light = space.decode(np.array([rgba(tint)[:3] for tint in tints]) / 255)
    if kind is not None:
        # Full deficiency by Machado, Oliveira and Fernandes (2009), as colour-science has it.
        light = np.clip(light @ colour_science().matrix_cvd_Machado2009(kind, 1.0).T, 0, 1)
    return list(lab_from_xyz(light @ space.xyz_from_rgb.T))


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("scale", SCALES, ids=NAMES)
# That full tritanomaly is an approximation is all the warning says.
@pytest.mark.filterwarnings('ignore:"Machado')
def test_neighbouring_tints_stay_apart(scale: Scale, kind: str | None) -> None:
    seen = labs(scale.tints, kind)
    assert min(float(delta_e_2000(a, b)) for a, b in pairwise(seen)) > APART


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.filterwarnings('ignore:"Machado')
def test_lighter_and_darker_are_never_mistaken(kind: str | None) -> None:
    seen = labs(CHANGE.tints, kind)
    middle = len(seen) // 2
    for k in range(1, middle + 1):
        assert float(delta_e_2000(seen[middle - k], seen[middle + k])) > APART


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.filterwarnings('ignore:"Machado')
def test_more_is_always_darker(kind: str | None) -> None:
    assert all(a[0] > b[0] + 5 for a, b in pairwise(labs(DIFFERENCE.tints, kind)))
    seen = labs(CHANGE.tints, kind)
    middle = len(seen) // 2
    assert all(a[0] > b[0] for a, b in pairwise(seen[middle:]))
    assert all(a[0] > b[0] for a, b in pairwise(seen[middle::-1]))


@pytest.mark.parametrize("scale", SCALES, ids=NAMES)
def test_every_edge_divides_two_tints(scale: Scale) -> None:
    assert len(scale.tints) == len(scale.edges) + 1
    below = scale.classes(np.array(scale.edges) - 1e-9)
    above = scale.classes(np.array(scale.edges) + 1e-9)
    assert list(below) == list(range(len(scale.edges)))
    assert list(above) == list(range(1, len(scale.edges) + 1))
    assert scale.classes(np.array([np.nan]))[0] == NOTHING


def test_a_map_in_the_page_is_the_map() -> None:
    values = np.array([[0.0, 0.5, np.nan], [9.0, 1.5, 0.7]])
    uri = classes_uri(DIFFERENCE.classes(values), DIFFERENCE.tints)
    data = base64.b64decode(uri.removeprefix("data:image/png;base64,"))
    with Image.open(io.BytesIO(data)) as picture:
        pixels = np.asarray(picture.convert("RGBA"))
    wanted: list[list[int | None]] = [[0, 1, None], [5, 3, 2]]
    for row, line in enumerate(wanted):
        for column, tint in enumerate(line):
            seen = tuple(int(v) for v in pixels[row, column])
            assert seen[3] == 0 if tint is None else seen == rgba(DIFFERENCE.tints[tint])


@pytest.mark.parametrize("scale", SCALES, ids=NAMES)
def test_a_legend_names_every_edge_and_the_unit(scale: Scale) -> None:
    root = drawn(legend(scale))
    words = [e.text for e in root if e.tag == "text"]
    assert words[0] == scale.title
    assert "ΔE2000" in scale.title or "%" in scale.title
    numbers = [float((w or "").replace("\u2212", "-")) for w in words[1:]]
    assert numbers == list(scale.edges)
    assert [e.get("fill") for e in root if e.tag == "rect"] == list(scale.tints)
