"""Maps of a merge: laid where they belong, and nothing where nothing is known."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.job.avoided import avoided_places
from colormatch.job.merge_light import Levelled
from colormatch.job.merge_report import counts, levelling_report, overlap_report
from colormatch.job.merge_views import CELL_MM, difference_maps, field_view, pale, reduced
from colormatch.joining.records import Grid, GridTile
from colormatch.levelling.records import LevelReport, PairLevel, TileGain, TileLevel, Unevenness
from colormatch.placing.records import Placement

NOTHING = Unevenness(mean_percent=0.0, p95_percent=0.0, mean_de=0.0, p95_de=0.0)
PPI = 254.0
"""Ten pixels per millimetre."""


def placement(turn: float = 0.0) -> Placement:
    c, s = np.cos(turn) * 10, np.sin(turn) * 10
    return Placement(
        names=("a", "b", "c"), poses=(), ppi=PPI, width=1000, height=600,
        canvas_from_mm=np.array([[c, -s, 500.0], [s, c, 300.0]]), pairs=(), rms=0.0,
        largest=0.0, chi_square=1.0, doubts=(),
    )  # fmt: skip


def pair(places: np.ndarray, before: np.ndarray, after: np.ndarray, **more: object) -> PairLevel:
    rest = {"trusted": np.ones(len(places), bool), "left_out": 0.0, **more}
    return PairLevel(
        first=0, second=1, before=NOTHING, after=NOTHING, agreeing=NOTHING, places=places,
        remaining=np.zeros((len(places), 3)), de_before=before, de_after=after,
        **rest,  # type: ignore[arg-type]
    )  # fmt: skip


def levelled(*pairs: PairLevel) -> Levelled:
    return Levelled(
        gains=(), steps=(), painted=(), report=LevelReport(pairs=pairs, tiles=(), assumptions=())
    )


@pytest.mark.parametrize("turn", [0.0, 0.03, 0.8])
def test_differences_lie_where_they_were_measured(turn: float) -> None:
    x, y = np.meshgrid(np.arange(-60.0, 61.0, 4.0), np.arange(-40.0, 41.0, 4.0))
    places = np.column_stack([x.ravel(), y.ravel()])
    # The difference is the place's own distance along x from the middle, left half only.
    places = places[places[:, 0] <= 0]
    before, after = difference_maps(
        placement(turn), levelled(pair(places, -places[:, 0], -places[:, 0] / 10))
    )
    assert before.shape == (round(60 / CELL_MM), round(100 / CELL_MM))
    rows, columns = np.indices(before.shape)
    there = np.column_stack(
        [(columns.ravel() + 0.5) * 20 - 0.5, (rows.ravel() + 0.5) * 20 - 0.5]
    ) - (500, 300)
    back = (there / 10) @ np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    x_there, y_there = (part.reshape(before.shape) for part in back.T)
    right = x_there > 3.5
    inside = (x_there < -0.5) & (x_there > -58) & (np.abs(y_there) < 39)
    assert np.isnan(before[right]).all()
    assert np.isfinite(before[inside]).all()
    # Half the distance of the places, and half a pixel, is all they may be off.
    assert np.abs(before[inside] + x_there[inside]).max() < 3.0
    assert np.allclose(after[inside], before[inside] / 10)


def test_where_three_tiles_meet_the_largest_difference_counts() -> None:
    places = np.zeros((1, 2))
    maps = difference_maps(
        placement(),
        levelled(
            pair(places, np.array([0.2]), np.array([3.0])),
            pair(places, np.array([0.7]), np.array([0.1])),
        ),
    )
    assert [float(np.nanmax(one)) for one in maps] == pytest.approx([0.7, 3.0])


def test_a_field_is_told_in_percent_and_on_the_painting_only() -> None:
    gain = np.ones((2, 3, 3), np.float32) * np.array([1.0, 1.02, 1.04], np.float32)
    painted = np.array([[True, True, False], [True, False, False]])
    light = Levelled(
        gains=(TileGain(gain=gain, sigma=gain[..., 0]),), steps=(1.0,), painted=(painted,),
        report=LevelReport(pairs=(), tiles=(), assumptions=()),
    )  # fmt: skip
    percent = field_view("a", 0, light).percent
    assert np.isnan(percent[~painted]).all()
    assert percent[painted] == pytest.approx(2.0, abs=1e-4)


def test_what_was_too_much_is_taken_away() -> None:
    tile = TileLevel(
        name="a", tied_to="strip", gain_percent=(25.0, 0.0, -20.0), profile_percent=5.0,
        carriage_percent=1.0, field_percent=0.5, blank_percent=0.0, level_sigma_percent=0.4,
        largest_sigma_percent=0.9,
    )  # fmt: skip
    told = levelling_report(tile, np.array([[0.8, 1.0, 1.2], [0.7, 0.9, 1.1]]))
    # Light that was 5/4 of what it should be becomes 4/5 of what it was.
    assert told.change == pytest.approx((-20.0, 0.0, 25.0))
    assert (told.least, told.most) == pytest.approx((-10.0, 0.0))


def test_differences_are_counted_as_a_histogram_counts_them() -> None:
    values = np.random.default_rng(3).gamma(1.0, 1.0, 500)
    told = counts(values)
    # NumPy's own, its last bin stretched to hold all above.
    known, _ = np.histogram(values, bins=[*np.arange(31) / 10, np.inf])
    assert told == tuple(known)


def test_an_overlap_of_which_nothing_agrees_is_told_as_it_is() -> None:
    bad = Unevenness(mean_percent=9.0, p95_percent=9.0, mean_de=4.0, p95_de=8.0)
    none = Unevenness(mean_percent=np.nan, p95_percent=np.nan, mean_de=np.nan, p95_de=np.nan)
    places = np.zeros((2, 2))
    level = pair(places, np.ones(2), np.ones(2), trusted=np.zeros(2, bool), left_out=1.0)
    level = PairLevel(**{**vars(level), "after": bad, "agreeing": none})
    told = overlap_report(level, ("a", "b"), None)
    assert (told.after, told.mean_after, told.left_out) == (8.0, 4.0, 1.0)


def test_what_is_held_against_each_tile_is_laid_on_the_picture() -> None:
    grid = Grid(canvas_height=40, canvas_width=60, step=10, mm_from_canvas=np.eye(3)[:2])

    def tile(column: int) -> GridTile:
        valid = np.ones((4, 3), bool)
        valid[0] = False
        return GridTile(
            name="a", row=0, column=column, light=np.zeros((4, 3, 3)), valid=valid,
            edge_distance=np.ones((4, 3)),
        )  # fmt: skip

    wrong, soft = np.zeros((4, 3)), np.full((4, 3), np.nan)
    wrong[:2, 1], soft[3, 0] = 1.0, 0.5
    clean = np.zeros((4, 3))
    found = avoided_places(grid, [tile(0), tile(3)], [wrong, clean], [clean, soft])
    assert np.argwhere(found.shaded).tolist() == [[1, 1]]
    assert np.argwhere(found.soft).tolist() == [[3, 3]]


def test_a_pale_picture_keeps_its_order_and_leaves_room_for_tints() -> None:
    ramp = np.arange(256, dtype=np.uint8).reshape(1, -1, 1).repeat(3, axis=2)
    told = pale(ramp)[0, :, 0].astype(int)
    assert (np.diff(told) >= 0).all()
    assert told[0] >= 130
    assert told[-1] <= 250


def test_maps_are_reduced_as_light_and_not_as_codes() -> None:
    light = np.indices((8, 8)).sum(axis=0).astype(np.float32) % 2
    # Half the light of white is code 188 in sRGB (IEC 61966-2-1).
    assert set(reduced(light, 4).ravel()) == {188}
    assert reduced(light, 100).shape == (8, 8)
