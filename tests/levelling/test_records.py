"""Records that check themselves."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.levelling.records import Anchors, LevelTile
from colormatch.model import FloatArray

EYE = np.array([[1.5, 0.0, 0.0], [0.0, 1.5, 0.0]])


def tile(
    light: tuple[int, ...] = (4, 5, 3),
    valid: tuple[int, int] = (4, 5),
    lamp: FloatArray | None = None,
) -> LevelTile:
    return LevelTile(
        name="a.tif",
        light=np.ones(light, dtype=np.float32),
        valid=np.ones(valid, dtype=bool),
        mm_from_px=EYE,
        scanner_mm_from_px=EYE,
        lamp=lamp,
    )


def test_shapes_that_do_not_fit_are_refused() -> None:
    with pytest.raises(InputError, match=r"a\.tif: light must be \(h, w, 3\)"):
        tile(light=(4, 5, 4))
    with pytest.raises(InputError, match=r"a\.tif: valid must be a mask of shape \(4, 5\)"):
        tile(valid=(5, 4))
    with pytest.raises(InputError, match=r"a\.tif: lamp must have shape"):
        tile(lamp=np.ones((5, 4)))
    with pytest.raises(InputError, match=r"a\.tif: lamp must be above 0"):
        tile(lamp=np.zeros((4, 5)))


@pytest.mark.parametrize(
    ("points", "residual", "sigma", "message"),
    [
        ((3, 2), (2, 3), (3,), "shapes"),
        ((0, 2), (0, 3), (0,), "N > 0"),
    ],
)
def test_anchors_must_match(
    points: tuple[int, int], residual: tuple[int, int], sigma: tuple[int], message: str
) -> None:
    with pytest.raises(InputError, match=message):
        Anchors(points=np.zeros(points), residual=np.zeros(residual), sigma=np.ones(sigma))


@pytest.mark.parametrize(("residual", "sigma"), [(np.nan, 1.0), (0.0, 0.0), (0.0, np.inf)])
def test_anchors_must_be_finite_and_uncertain(residual: float, sigma: float) -> None:
    with pytest.raises(InputError, match="finite and their sigma above 0"):
        Anchors(
            points=np.zeros((2, 2)), residual=np.full((2, 3), residual), sigma=np.full(2, sigma)
        )
