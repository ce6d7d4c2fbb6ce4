"""Tolerance sets: the figures against their sources, and how levels are reached."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import InputError
from colormatch.standards import METRICS, TOLERANCE_SETS, levels_reached, tolerance_set
from colormatch.standards.records import Tolerance, ToleranceSet

SETS = list(TOLERANCE_SETS.values())


def _limits(name: str, metric: str) -> list[str]:
    return [
        tolerance.limit
        for level in TOLERANCE_SETS[name].levels
        for tolerance in level.tolerances
        if tolerance.metric == metric
    ]


# Each line was typed again from the source named in the set, not from the data.
@pytest.mark.parametrize(
    ("name", "metric", "limits"),
    [
        # FADGI 2016, paintings and other 2-D art, 4-star to 1-star.
        ("fadgi-2016", "mean_de00", ["< 2", "< 4", "< 6", "< 10"]),
        ("fadgi-2016", "tone_dl", ["≤ 2", "≤ 5", "≤ 8", "≤ 8"]),
        ("fadgi-2016", "white_balance_de_ab", ["≤ 2", "≤ 4", "≤ 6", "≤ 8"]),
        ("fadgi-2016", "noise_l", ["< 1", "< 2", "< 3", "< 4"]),
        ("fadgi-2016", "scale_error", ["≤ 1", "≤ 2", "≤ 3", "≤ 3"]),
        # FADGI 2023, secondary sources, 4 to 1.
        ("fadgi-2023", "mean_de00", ["< 2", "< 3.5", "< 5", "< 6.5"]),
        ("fadgi-2023", "p90_de00", ["< 4", "< 7", "< 10", "< 13"]),
        ("fadgi-2023", "tone_dl", ["< 1.5", "< 3", "< 4.5", "< 6"]),
        ("fadgi-2023", "gain_highlights", ["0.8 to 1.1", "0.7 to 1.2", "0.6 to 1.3", "0.5 to 1.4"]),
        ("fadgi-2023", "scale_error", ["≤ 1", "≤ 2", "≤ 3", "≤ 5"]),
        # ISO 19264-1:2021, A to C, secondary source.
        ("iso-19264-1", "mean_de00_sl1", ["≤ 4", "≤ 5", "≤ 5"]),
        ("iso-19264-1", "max_de00_sl1", ["≤ 10", "≤ 15", "≤ 15"]),
        ("iso-19264-1", "tone_dl", ["≤ 2", "≤ 3", "≤ 4"]),
        ("iso-19264-1", "gain_other", ["0.7 to 1.3", "0.6 to 1.4", "0.3 to 1.6"]),
        ("iso-19264-1", "noise_l", ["≤ 1.6", "≤ 2", "≤ 2.2"]),
        # Metamorfoze 1.0, January 2012: Full, Light, Extra Light.
        ("metamorfoze-2012", "mean_de76", ["≤ 4", "≤ 5", "≤ 5"]),
        ("metamorfoze-2012", "max_de76", ["≤ 10", "≤ 18", "≤ 18"]),
        ("metamorfoze-2012", "neutral_de76", ["≤ 2.83"] * 3),
        ("metamorfoze-2012", "gain_highlights", ["0.8 to 1.08"] * 3),
        ("metamorfoze-2012", "gain_other", ["0.6 to 1.4", "0.6 to 1.4", "0.1 to 2"]),
    ],
)
def test_figures(name: str, metric: str, limits: list[str]) -> None:
    assert _limits(name, metric) == limits


def test_combined_neutral_tolerance_follows_from_its_parts() -> None:
    # Metamorfoze 2012: 2.83 is two tolerances of 2 combined.
    assert float(_limits("metamorfoze-2012", "neutral_de76")[0][2:]) == round(math.hypot(2, 2), 2)


@pytest.mark.parametrize("figures", SETS, ids=lambda figures: figures.name)
def test_sets_are_whole(figures: ToleranceSet) -> None:
    assert TOLERANCE_SETS[figures.name] is figures
    assert figures.source
    assert "complian" not in (figures.title + figures.note).lower()
    metrics = [tolerance.metric for tolerance in figures.levels[0].tolerances]
    for level in figures.levels:
        assert [tolerance.metric for tolerance in level.tolerances] == metrics
        assert level.tolerances[0].metric.startswith("mean_de")
        assert set(metrics) <= set(METRICS)


@pytest.mark.parametrize("figures", SETS, ids=lambda figures: figures.name)
def test_no_level_is_harder_than_a_better_one(figures: ToleranceSet) -> None:
    for better, worse in zip(figures.levels, figures.levels[1:], strict=False):
        for first, second in zip(better.tolerances, worse.tolerances, strict=True):
            assert (first.high or 0) <= (second.high or 0)
            assert (first.low or 0) >= (second.low or 0)


@pytest.mark.parametrize(
    ("mean", "level"),
    [(1.99, "4-star"), (2.0, "3-star"), (5.9, "2-star"), (9.99, "1-star"), (10.0, None)],
)
def test_best_level_by_mean_alone(mean: float, level: str | None) -> None:
    outcome = levels_reached(tolerance_set("fadgi-2016"), {"mean_de00": mean})
    assert outcome.level == level


def test_the_worst_figure_decides_and_all_are_listed() -> None:
    outcome = levels_reached(
        tolerance_set("fadgi-2023"),
        {"mean_de00": 1.0, "p90_de00": 2.0, "gain_highlights": [0.95, 0.75, 1.05]},
    )
    assert outcome.level == "3-star"
    shown = {check.metric.key: (check.value, check.passed) for check in outcome.shown}
    assert shown["gain_highlights"] == (0.75, True)
    assert shown["mean_de00"] == (1.0, True)
    assert shown["noise_l"] == (None, None)
    best = {check.metric.key: check.passed for check in outcome.checks["4-star"]}
    assert best["gain_highlights"] is False


def test_nothing_reached_shows_the_last_level() -> None:
    outcome = levels_reached(tolerance_set("matched"), {"mean_de00": 2.5, "p95_de00": 3.0})
    assert outcome.level is None
    assert [check.passed for check in outcome.shown] == [False, True, None]


def test_no_level_without_the_mean_difference() -> None:
    assert levels_reached(tolerance_set("fadgi-2016"), {"scale_error": 0.1}).level is None


def test_less_than_excludes_the_limit() -> None:
    assert Tolerance(metric="noise_l", high=2).holds(2.0)
    assert not Tolerance(metric="noise_l", high=2, strict=True).holds(2.0)
    assert Tolerance(metric="gain_other", low=0.5, high=2).holds(0.5)
    assert not Tolerance(metric="gain_other", low=0.5, high=2).holds(0.49)


def test_doubtful_input_is_refused() -> None:
    figures = tolerance_set("matched")
    with pytest.raises(ValueError, match="unknown metric 'mean'"):
        levels_reached(figures, {"mean": 1.0})
    with pytest.raises(ValueError, match="mean_de00 must be finite"):
        levels_reached(figures, {"mean_de00": math.nan})
    with pytest.raises(ValueError, match="gain_other must be finite"):
        levels_reached(figures, {"gain_other": []})
    with pytest.raises(InputError, match="unknown tolerance 'fadgi': choose one of matched, fadgi"):
        tolerance_set("fadgi")


@given(st.floats(0, 20), st.floats(0, 20))
def test_a_smaller_difference_never_reaches_less(first: float, second: float) -> None:
    figures = tolerance_set("iso-19264-1")
    names = [level.name for level in figures.levels] + [None]
    low, high = sorted((first, second))
    better = levels_reached(figures, {"mean_de00_sl1": low}).level
    worse = levels_reached(figures, {"mean_de00_sl1": high}).level
    assert names.index(better) <= names.index(worse)
