"""What the page draws, held against the scan it was taken from."""

from __future__ import annotations

import numpy as np

from colormatch.job.merge_views import residual_view
from colormatch.job.options import CheckOptions
from colormatch.job.tiles import load_target, look_at, read_strips
from colormatch.job.views import THUMBNAIL, in_small, tile_view
from colormatch.model import silent
from colormatch.placing.records import PairFit
from demo.run import DemoFiles


def test_patches_lie_where_the_thumbnail_shows_them(two_tiles: DemoFiles) -> None:
    opened = look_at(two_tiles.scans[0], silent)
    strips = read_strips(opened, load_target(CheckOptions())).strips
    view = tile_view(opened, strips)
    opened.scan.close()
    assert view.thumbnail.shape[1] <= THUMBNAIL
    shown = []
    for corners in view.strips[0].patches:
        x, y = np.mean(corners, axis=0).astype(int)
        shown.append(view.thumbnail[y, x] / 255)
    # A pixel of the thumbnail is half a millimetre: patches of 6 mm are not mixed.
    apart = np.abs(np.array(shown) - strips[0].rgb)[strips[0].usable]
    assert float(np.median(apart)) < 0.02
    assert float(np.percentile(apart, 95)) < 0.08


def test_small_pictures_are_not_enlarged() -> None:
    assert in_small(np.zeros((10, 20, 3)), 4.0).shape == (10, 20, 3)
    half = in_small(np.full((10, 20, 3), 0.5), 0.5)
    assert half.shape == (5, 10, 3)
    assert set(half.ravel()) == {128}


def test_places_left_out_are_not_drawn() -> None:
    fit = PairFit(
        first=0, second=1, share=0.3, places=np.arange(8.0).reshape(4, 2),
        gaps=np.ones((4, 2)), weights=np.array([1.0, 0.0, 0.9, 0.2]), tried=4, rms=0.1,
        largest=0.2, spread=0.1,
    )  # fmt: skip
    view = residual_view(fit, ["a", "b"])
    assert view.tiles == ("a", "b")
    assert view.places.tolist() == [[0.0, 1.0], [4.0, 5.0]]
