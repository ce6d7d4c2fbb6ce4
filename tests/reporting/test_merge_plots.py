"""Drawings of a joined picture."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.merged import OverlapReport
from colormatch.reporting.merge_plots import (
    lengthening,
    map_picture,
    overlap_plot,
    residual_plot,
)
from colormatch.views import MergeView, ResidualView
from tests.reporting.reading import drawn


def view(gaps: list[tuple[float, float]]) -> MergeView:
    blank = np.zeros((20, 34, 3), np.uint8)
    pair = ResidualView(
        tiles=("a", "b"),
        places=np.array([(100.0 * k, 50.0) for k in range(len(gaps))]).reshape(-1, 2),
        gaps=np.array(gaps).reshape(-1, 2),
    )
    return MergeView(
        seams=blank, grey=blank, shades={"a": (1.0, 0.0, 0.0)},
        size=(3400.0, 2000.0), residuals=(pair,), before=np.zeros((2, 3), np.float32),
        after=np.zeros((2, 3), np.float32), fields=(), shaded=np.zeros((2, 3), bool),
        soft=np.zeros((2, 3), bool), pixel=0.1,
    )  # fmt: skip


def test_arrows_start_at_their_places_and_are_lengthened_as_said() -> None:
    svg, times = residual_plot(view([(0.5, 0.0), (0.0, -0.4)]))
    errors = [e for e in drawn(svg) if e.get("class") == "error"]
    # A tenth of a drawing unit per pixel.
    assert float(errors[1].get("x1") or 0) == pytest.approx(10.05, abs=0.01)
    gone = float(errors[0].get("x2") or 0) - float(errors[0].get("x1") or 0)
    assert gone == pytest.approx(0.5 * times / 10, abs=0.01)
    assert float(errors[1].get("y2") or 0) < float(errors[1].get("y1") or 0)


def test_the_ruler_is_half_a_pixel() -> None:
    svg, times = residual_plot(view([(0.5, 0.0)]))
    ruler = next(e for e in drawn(svg) if e.get("class") == "ruler")
    length = float(ruler.get("x2") or 0) - float(ruler.get("x1") or 0)
    assert length == pytest.approx(0.5 * times / 10, abs=0.01)


def test_small_residuals_are_lengthened_more_than_large_ones() -> None:
    small, large = (lengthening(np.full((9, 2), size), 3400.0) for size in (0.05, 5.0))
    assert small > large >= 1
    assert lengthening(np.empty((0, 2)), 3400.0) == 1


def test_before_and_after_stand_in_one_row() -> None:
    pair = OverlapReport(tiles=("a.tif", "<b>.tif"), before=2.0, after=0.5, placing_rms=None)
    root = drawn(overlap_plot([pair]))
    hollow, full = (e for e in root if e.tag == "circle")
    assert hollow.get("class") == "hollow"
    assert float(full.get("cx") or 0) < float(hollow.get("cx") or 0)
    assert full.get("cy") == hollow.get("cy")
    assert "a.tif and <b>.tif" in [e.text for e in root]


def test_a_map_keeps_its_shape() -> None:
    root = drawn(map_picture(np.zeros((20, 34, 3), np.uint8), "map"))
    assert root.get("viewBox") == "0 0 34 20"
