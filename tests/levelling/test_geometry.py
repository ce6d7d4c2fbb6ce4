"""Maps to the glass and to the painting."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.errors import InputError
from colormatch.levelling.geometry import glass_axes, glass_map, mapped, pixels_at
from colormatch.levelling.records import LevelTile, PointMap
from colormatch.model import FloatArray


def plain_tile(
    shape: tuple[int, int],
    glass: FloatArray,
    mm_from_px: FloatArray | PointMap | None = None,
) -> LevelTile:
    return LevelTile(
        name="tile.tif",
        light=np.full((*shape, 3), 0.5, dtype=np.float32),
        valid=np.ones(shape, dtype=bool),
        mm_from_px=glass if mm_from_px is None else mm_from_px,
        scanner_mm_from_px=glass,
    )


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_the_glass_is_found_after_quarter_turns_of_the_file(turns: int) -> None:
    # numpy turns a picture of the true coordinates as the file was turned.
    way, lamp = np.indices((5, 8)).astype(float) * 1.5
    turned = [np.rot90(a, k=-turns) for a in (lamp, way)]
    shape = turned[0].shape
    y, x = np.indices(shape).astype(float)
    found = mapped(glass_map(1.5, shape, turns), np.column_stack([x.ravel(), y.ravel()]))
    np.testing.assert_allclose(found[:, 0], turned[0].ravel(), atol=1e-12)
    np.testing.assert_allclose(found[:, 1], turned[1].ravel(), atol=1e-12)
    axes = glass_axes(plain_tile(shape, glass_map(1.5, shape, turns)))
    assert axes.turned == bool(turns % 2)
    assert (len(axes.lamp), len(axes.carriage)) == (8, 5)


def test_a_slanted_map_to_the_glass_is_refused() -> None:
    slanted = np.array([[1.5, 0.1, 0.0], [-0.1, 1.5, 0.0]])
    with pytest.raises(InputError, match=r"tile\.tif: the map to the glass must run along"):
        glass_axes(plain_tile((6, 7), slanted))


def test_pixels_are_found_back_through_a_bent_map() -> None:
    def bent(points: FloatArray) -> FloatArray:
        x, y = points.T
        return np.column_stack(
            [1.5 * x - 0.02 * y + 0.2 * np.sin(y / 9.0) + 4.0, 1.5 * y + 0.3 * (x / 60.0) ** 3]
        )

    tile = plain_tile((90, 60), glass_map(1.5, (90, 60)), bent)
    points = np.random.default_rng(1).uniform(0, 59, (40, 2))
    np.testing.assert_allclose(pixels_at(tile, bent(points)), points, atol=1e-5)
