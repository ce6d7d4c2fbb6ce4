"""The map from light to colour: terms, exposure, paper, and what happens outside the hull."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.colour.science import colour_science
from colormatch.fitting.maps import FADE, ColourMap, Hull, plain_map, root_terms, shares
from tests.fitting.paint_rows import MATRIX, WHITE

RED_GREEN_BLUE = np.array([[0.85, 0.05], [0.05, 0.05], [0.05, 0.85]])


def curved() -> ColourMap:
    rng = np.random.default_rng(5)
    return ColourMap(
        matrix=MATRIX,
        white=WHITE,
        linear=MATRIX + rng.normal(0, 0.02, (3, 1)) * np.array([1, -1, 0]) / WHITE,
        squares=rng.normal(0, 0.06, (3, 3)),
        hull=Hull.around(RED_GREEN_BLUE),
    )


def inside(count: int = 300) -> np.ndarray:
    light = np.random.default_rng(1).random((count, 3)) + 0.05
    part = shares(light, WHITE)[1]
    hull = Hull.around(RED_GREEN_BLUE)
    assert hull is not None
    return light[hull.beyond(part) < 0]


def test_terms_are_those_of_the_reference_library() -> None:
    # Oracle: colour-science, polynomial_expansion_Finlayson2015 (IEEE TIP 24(5), 2015).
    light = inside()
    expansion = colour_science().characterisation.polynomial_expansion_Finlayson2015
    np.testing.assert_allclose(root_terms(light), expansion(light, 2, True), rtol=1e-12)


def test_coefficients_on_the_terms_give_the_same_colours() -> None:
    map_, light = curved(), inside()
    assert map_.coefficients is not None
    expansion = colour_science().characterisation.polynomial_expansion_Finlayson2015
    wanted = expansion(light, 2, True) @ map_.coefficients.T
    np.testing.assert_allclose(map_.xyz(light), wanted, atol=1e-12)


@given(st.floats(0.1, 3.0))
def test_more_light_scales_the_colour_and_nothing_else(exposure: float) -> None:
    # The property the method is published for: Finlayson, Mackiewicz, Hurlbert 2015.
    map_, light = curved(), inside(60)
    np.testing.assert_allclose(map_.xyz(exposure * light), exposure * map_.xyz(light), rtol=1e-9)


def test_paper_and_greys_of_its_hue_keep_the_colour_of_the_3x3() -> None:
    greys = np.outer(np.linspace(0.02, 1.1, 12), WHITE)
    np.testing.assert_allclose(curved().xyz(greys), greys @ MATRIX.T, atol=1e-12)


def test_outside_the_hull_the_3x3_holds_and_the_way_there_has_no_step() -> None:
    map_ = curved()
    path = np.linspace(0.0, 0.25, 400)
    part = np.stack([0.4 + path, np.full(400, 0.02)], axis=1)
    assert map_.hull is not None
    beyond = map_.hull.beyond(part)
    bend = np.linalg.norm(map_.bend(part), axis=1)
    assert (bend[beyond > FADE] == 0).all()
    far = np.array([[0.9, 0.05, 1e-4]])
    outside = shares(far, WHITE)[1]
    assert map_.hull.beyond(outside)[0] < FADE or (map_.xyz(far) == far @ MATRIX.T).all()
    assert np.abs(np.diff(bend)).max() < 0.02


def test_no_light_and_less_than_none_stay_finite() -> None:
    light = np.array([[0.0, 0.0, 0.0], [-1e-3, 2e-4, 1e-5], [1e-9, 0.0, 0.0], [-1e-3, 0.4, 0.3]])
    assert np.isfinite(curved().xyz(light)).all()


@pytest.mark.parametrize("points", [np.zeros((5, 2)), np.linspace(0, 1, 8)[:, None] * [1, 0.3]])
def test_colours_of_one_hue_have_no_hull(points: np.ndarray) -> None:
    assert Hull.around(points) is None


def test_a_plain_map_is_its_matrix() -> None:
    light = inside()
    map_ = plain_map(MATRIX, WHITE)
    np.testing.assert_array_equal(map_.xyz(light), light @ MATRIX.T)
    assert map_.coefficients is None
