"""Drawings of what levelling and joining did, held against the records they are drawn from."""

from __future__ import annotations

import base64
import io
import math
import re
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.merged import STEPS, OverlapReport, PlaceReport
from colormatch.reporting import matrix_plots
from colormatch.reporting.avoided_plots import avoided_classes, avoided_map, free_spot
from colormatch.reporting.level_plots import extremes, field_map, range_words
from colormatch.reporting.overlap_plots import MOST_PAIRS, ROW, histograms
from colormatch.reporting.page import kept
from colormatch.reporting.scales import NOTHING
from colormatch.reporting.seam_pictures import RIM, piece, three_of
from colormatch.reporting.svg import signed
from colormatch.views import CropView, FieldView
from tests.reporting.reading import drawn
from tests.reporting.records import colour, patches
from tests.reporting.test_merge_plots import view


def overlap(name: str, before: float, counts: dict[int, int]) -> OverlapReport:
    many = [0] * (STEPS + 1)
    for step, count in counts.items():
        many[step] = count
    return OverlapReport(
        tiles=(name, "z.tif"), before=before, after=0.1, placing_rms=None,
        counts_before=tuple(many), counts_after=tuple(many),
    )  # fmt: skip


def test_bars_are_as_high_as_the_share_of_places() -> None:
    root = drawn(histograms([overlap("a.tif", 1.0, {0: 30, 5: 10, STEPS: 10})]))
    bars = [e for e in root if e.get("class") == "bar in"]
    heights = [float(e.get("height") or 0) for e in bars]
    assert heights == pytest.approx([heights[0], heights[0] / 3, heights[0] / 3], abs=0.02)
    assert "highest 60 %" in [e.text for e in root]
    # The limit lies where ten steps of 0.1 end.
    limit = next(e for e in root if e.get("class") == "limit")
    first = float(bars[0].get("x") or 0)
    fifth = float(bars[1].get("x") or 0)
    assert float(limit.get("x1") or 0) == pytest.approx(first + 2 * (fifth - first), abs=0.1)


def test_the_pairs_that_differ_most_are_drawn_first_and_no_more_than_told() -> None:
    many = [overlap(f"{k}.tif", k / 10, {1: 5}) for k in range(MOST_PAIRS + 3)]
    root = drawn(histograms(many))
    names = [e.text or "" for e in root if " and z.tif" in (e.text or "")]
    assert len(names) == MOST_PAIRS
    assert names[0].startswith(f"{MOST_PAIRS + 2}.tif")
    height = float((root.get("viewBox") or "").split()[3])
    assert height > ROW * MOST_PAIRS


def test_the_extremes_of_a_field_are_marked_where_they_are() -> None:
    percent = np.array([[np.nan, 0.5, 1.0], [0.2, -0.04, 2.25]], np.float32)
    one = FieldView(tile="a", percent=percent)
    found = extremes(one)
    assert [place[:2] for place in found] == [(1, 1), (1, 2)]
    assert [place[2] for place in found] == pytest.approx([-0.04, 2.25])
    root = drawn(field_map(one))
    spots = [(float(e.get("cx") or 0), float(e.get("cy") or 0)) for e in root
             if e.get("class") == "spot"]  # fmt: skip
    assert spots == [pytest.approx((100.0, 100.0)), pytest.approx((166.67, 100.0), abs=0.01)]
    assert "+2.2 %" in [e.text for e in root]
    assert range_words(one) == "0.0 to +2.2\u00a0%"
    bare = FieldView(tile="a", percent=np.full((2, 2), np.nan, np.float32))
    assert range_words(bare) == "no painting seen"
    assert drawn(field_map(bare)).get("viewBox") == "0 0 200 200"


def test_no_place_is_too_small_to_be_seen() -> None:
    shaded, soft = np.zeros((3000, 4000), bool), np.zeros((3000, 4000), bool)
    shaded[1234, 2345] = True
    soft[2000:2060, 100:160] = True
    classes = avoided_classes(shaded, soft)
    assert max(classes.shape) <= 680
    assert (classes == 0).sum() == 1
    # Stripes: half of the soft place is clear.
    assert 0.3 < (classes[330:345, 17:27] == NOTHING).mean() < 0.7


def test_numbers_lead_to_their_places_and_do_not_hide_one_another() -> None:
    places = [
        PlaceReport(
            kind="shadow", tiles=("a", "b"), place=(30.0 + k, 199.0), size=(5, 2), depth=0.1,
            text=str(k),
        )
        for k in range(8)
    ]  # fmt: skip
    merged = replace(view([]), size=(3400.0, 2000.0), pixel=0.1)
    root = drawn(avoided_map(merged, places))
    circles = [e for e in root if e.get("class") == "number"]
    centres = [(float(e.get("cx") or 0), float(e.get("cy") or 0)) for e in circles]
    assert min(math.dist(a, b) for k, a in enumerate(centres) for b in centres[:k]) > 16
    assert all(8 < x < 332 and 8 < y < 192 for x, y in centres)
    leads = [e for e in root if e.get("class") == "lead-line"]
    # A drawing unit is a millimetre here.
    assert [float(e.get("x1") or 0) for e in leads] == pytest.approx([30.0 + k for k in range(8)])


def test_a_number_without_room_stays_inside() -> None:
    x, y = free_spot((5.0, 5.0), [], 12.0)
    assert 8 <= x <= 332
    assert y == pytest.approx(8.0) or y == pytest.approx(4.0)


def crop() -> CropView:
    picture = np.random.default_rng(4).integers(0, 255, (50, 80, 3), dtype=np.uint8)
    return CropView(
        tiles=("a", "b"), box=(0, 0, 80, 50), middle=(12.0, 34.0), delta_e=0.4, scanned=picture,
        matched=picture, joined=picture, ends=((30.0, 0.0), (80.0, 20.0)),
        cuts=((31.0, 0.0), (29.0, 50.0)),
    )  # fmt: skip


def test_a_piece_is_drawn_one_to_one_and_its_wedges_point_at_the_cut() -> None:
    one = crop()
    svg = piece(one.joined, one.ends, "piece")
    root = drawn(svg)
    assert root.get("viewBox") == f"0 0 {80 + 2 * RIM:g} {50 + 2 * RIM:g}"
    image = next(e for e in root if e.tag == "image")
    assert (image.get("width"), image.get("height")) == ("80", "50")
    tips = [[float(v) for v in (e.get("points") or "").split()[0].split(",")] for e in root
            if e.tag == "polygon"]  # fmt: skip
    assert tips == [[30 + RIM, RIM], [80 + RIM, 20 + RIM]]
    # The letters decode to the picture, to what JPEG loses.
    data = base64.b64decode((image.get("href") or "").removeprefix("data:image/jpeg;base64,"))
    with Image.open(io.BytesIO(data)) as seen:
        assert seen.size == (80, 50)
    first, second, third = (drawn(svg) for svg, _ in three_of(one))
    wedges = [[e.get("points") for e in r if e.tag == "polygon"] for r in (first, second, third)]
    assert wedges[0] == wedges[1] != wedges[2]


def test_what_the_own_matrix_changes_is_what_it_would_do_to_the_patches() -> None:
    own = ((0.98, 0.01, 0.0), (0.0, 1.0, 0.0), (0.0, 0.02, 1.1))
    one = replace(colour(), own_matrix=own)
    shown = patches()[:2]
    moved = matrix_plots.shifts(one, shown)
    for (shared, changed), patch in zip(moved, shown, strict=True):
        # The shared matrix of these records is the identity: light is XYZ.
        xyz = xyz_from_lab(np.array(patch.wanted, dtype=float))
        assert shared == pytest.approx(patch.wanted[1:], abs=1e-9)
        assert changed == pytest.approx(lab_from_xyz(np.array(own) @ xyz)[1:])
    same = matrix_plots.shifts(colour(), shown)
    assert same[:, 0] == pytest.approx(same[:, 1])
    assert float(delta_e_2000([50, *moved[0, 0]], [50, *moved[0, 1]])) > 0.3


def test_departures_are_lengthened_as_said() -> None:
    moved = np.array([[[0.0, 0.0], [0.5, 0.0]], [[10.0, 10.0], [10.0, 10.2]]])
    times = matrix_plots.lengthening([moved])
    assert times == 50
    shown = patches()[:2]
    svg = matrix_plots.shift_plot("a", moved, shown, times)
    lines = [e for e in drawn(svg) if e.get("class") == "error"]
    axis = matrix_plots.SIDE - 38 - 12
    reach = 40.0 * 1.1
    gone = float(lines[0].get("x2") or 0) - float(lines[0].get("x1") or 0)
    assert gone == pytest.approx(25.0 / (2 * reach) * axis, abs=0.02)


def test_a_departure_stands_where_its_figure_is() -> None:
    far = replace(colour(), departure=0.6, departure_noise=0.3)
    root = drawn(matrix_plots.departures(["a", "b"], [colour(), far]))
    dots = [float(e.get("cx") or 0) for e in root if e.tag == "circle"]
    limit = next(float(e.get("x1") or 0) for e in root if e.get("class") == "limit")
    bars = [e for e in root if e.tag == "rect"]
    zero = float(bars[0].get("x") or 0)
    assert dots[1] - zero == pytest.approx(2 * (limit - zero), abs=0.05)
    assert float(bars[1].get("width") or 0) == pytest.approx(limit - zero, abs=0.05)


def test_numbers_have_a_sign_but_nothing_has_none() -> None:
    assert [signed(v) for v in (0.04, -0.04, 1.25, -3.0)] == ["0.0", "0.0", "+1.2", "\u22123.0"]


def test_options_and_short_file_names_stay_whole_and_everything_is_escaped() -> None:
    told = kept("give --sheet to tile-3.tif <b>&amp; well-known things")
    assert re.findall(r'<span class="nb">(.*?)</span>', told) == ["--sheet", "tile-3.tif"]
    assert "&lt;b&gt;&amp;amp; well-known" in told
