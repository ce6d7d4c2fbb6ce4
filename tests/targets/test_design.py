"""The shipped strips: regenerated exactly, and as the rules promise."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from colormatch.colour.science import colour_science
from colormatch.colour.spaces import lab_from_xyz
from colormatch.model import FloatArray, Layout, Reference
from targets import design

SHIPPED = Path(design.__file__).parent


@pytest.fixture(scope="module")
def designs() -> dict[str, tuple[Layout, Reference]]:
    return {plan.name: design.design(plan) for plan in design.PLANS}


@pytest.mark.parametrize("name", ["strip-long", "strip-short"])
def test_is_written_again_byte_for_byte(
    name: str, designs: dict[str, tuple[Layout, Reference]]
) -> None:
    for file, text in design.files(*designs[name]).items():
        assert (SHIPPED / file).read_bytes() == text.encode(), file


@pytest.mark.parametrize(
    ("name", "patches", "steps"), [("strip-long", 60, 10), ("strip-short", 30, 8)]
)
def test_has_the_patches_promised(
    name: str, patches: int, steps: int, designs: dict[str, tuple[Layout, Reference]]
) -> None:
    layout, reference = designs[name]
    assert len(layout.patches) >= patches
    assert min(min(patch.width, patch.height) for patch in layout.patches) >= 6
    lightness = lab_from_xyz(reference.xyz)[:, 0]
    for left in (True, False):
        end = [
            (i, patch)
            for i, patch in enumerate(layout.patches)
            if (patch.x + patch.width / 2 < layout.width / 2) == left
        ]
        neutral = sorted(lightness[i] for i, patch in end if patch.role == "neutral")
        assert len(neutral) == steps
        assert np.diff(neutral).min() > 8
        assert sum(patch.role == "paper" for _, patch in end) == 1


@pytest.mark.parametrize("name", ["strip-long", "strip-short"])
def test_place_tells_nothing_about_colour(
    name: str, designs: dict[str, tuple[Layout, Reference]]
) -> None:
    layout, reference = designs[name]
    lab, places = _lab_and_places(layout, reference)
    pairs = np.corrcoef(np.hstack([lab, places]).T)[:3, 3:]
    assert np.abs(pairs).max() < 0.05


def _lab_and_places(layout: Layout, reference: Reference) -> tuple[FloatArray, FloatArray]:
    scattered = [i for i, patch in enumerate(layout.patches) if patch.role != "flare"]
    places = np.array([(layout.patches[i].x, layout.patches[i].y) for i in scattered])
    return lab_from_xyz(reference.xyz)[scattered], places


@pytest.mark.parametrize("name", ["strip-long", "strip-short"])
def test_neighbours_differ(name: str, designs: dict[str, tuple[Layout, Reference]]) -> None:
    lab, places = _lab_and_places(*designs[name])
    apart = np.abs(places[:, None] - places[None]).max(axis=-1)
    near = (apart > 0) & (apart < 7)
    assert np.linalg.norm(lab[:, None] - lab[None], axis=-1)[near].min() > 4


@pytest.mark.parametrize("name", ["strip-long", "strip-short"])
def test_nominal_values_are_those_of_srgb_codes(
    name: str, designs: dict[str, tuple[Layout, Reference]]
) -> None:
    # Source: colour-science's sRGB, an implementation of IEC 61966-2-1. Its matrix is
    # the standard's own of four decimals, hence the tolerance of a tenth of a code.
    colour = colour_science()
    _, reference = designs[name]
    space = colour.RGB_COLOURSPACES["sRGB"]
    white = colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["ICC D50"]
    codes = 255 * colour.XYZ_to_RGB(
        reference.xyz, space, white, "Bradford", apply_cctf_encoding=True
    )
    np.testing.assert_allclose(codes, codes.round(), atol=0.15)


def test_flare_patches_are_one_colour_on_a_white_and_a_black_field(
    designs: dict[str, tuple[Layout, Reference]],
) -> None:
    for layout, reference in designs.values():
        flare = [i for i, patch in enumerate(layout.patches) if patch.role == "flare"]
        first, second = reference.xyz[flare]
        np.testing.assert_array_equal(first, second)
        assert [field.kind for field in layout.fields] == ["grey", "white", "black"]
        for i, field in zip(flare, layout.fields[1:], strict=True):
            patch = layout.patches[i]
            margins = (
                patch.x - field.x,
                patch.y - field.y,
                field.x + field.width - patch.x - patch.width,
                field.y + field.height - patch.y - patch.height,
            )
            assert min(margins) >= 2.5


def test_chromatic_colours_spread(designs: dict[str, tuple[Layout, Reference]]) -> None:
    layout, reference = designs["strip-long"]
    chromatic = [i for i, patch in enumerate(layout.patches) if patch.role == "chromatic"]
    lab = lab_from_xyz(reference.xyz)[chromatic]
    hue = np.arctan2(lab[:, 2], lab[:, 1])
    chroma = np.hypot(lab[:, 1], lab[:, 2])
    assert np.histogram(hue, bins=8, range=(-np.pi, np.pi))[0].min() >= 2
    assert (chroma > 50).sum() >= 6
    assert (chroma < 30).sum() >= 10
    assert (lab[:, 0] < 40).sum() >= 8
