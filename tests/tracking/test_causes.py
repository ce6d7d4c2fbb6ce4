"""What is said of simulated logs whose truth is known (see histories.py)."""

from __future__ import annotations

import pytest

from colormatch.drifts import Cause, Statement
from colormatch.tracking.causes import statements_of
from colormatch.tracking.readings import series_of
from tests.tracking.histories import Plan, State, history

DAYS = 12


def said(*plans: Plan, seed: int = 0) -> dict[tuple[str, str], list[Statement]]:
    found: dict[tuple[str, str], list[Statement]] = {}
    for one in statements_of(series_of(history(*plans, seed=seed))):
        found.setdefault((one.scanner, one.strip), []).append(one)
    return found


def alone(plan: Plan, seed: int = 0) -> list[Statement]:
    (found,) = said(plan, seed=seed).values()
    return found


@pytest.mark.parametrize("seed", [0, 1, 2])
def test_a_steady_strip_is_called_steady(seed: int) -> None:
    assert [s.cause for s in alone(Plan(days=DAYS), seed)] == [Cause.STEADY]


@pytest.mark.parametrize(
    ("keep", "ink", "others"),
    [
        ((0.9, 1, 1, 1), "cyan", ("magenta about", "yellow about")),
        ((1, 0.88, 1, 1), "magenta", ("cyan about", "yellow about")),
        ((1, 1, 0.92, 1), "yellow", ("cyan about", "magenta about")),
    ],
)
def test_a_dye_that_fades_is_named_and_no_other(
    keep: tuple[float, float, float, float], ink: str, others: tuple[str, ...]
) -> None:
    (one,) = alone(Plan(days=DAYS, last=State(keep=keep)))
    assert (one.cause, one.told) == (Cause.INK, True)
    assert f"{ink} about" in one.text
    assert not any(other in one.text for other in others)


def test_two_dyes_that_fade_are_both_named() -> None:
    (one,) = alone(Plan(days=DAYS, last=State(keep=(0.99, 0.87, 0.87, 1))))
    assert one.cause is Cause.INK
    assert "magenta about" in one.text
    assert "yellow about" in one.text
    assert "cyan about" not in one.text


@pytest.mark.parametrize("last", [State(exposure=0.9), State(phosphor=0.88)])
def test_a_lamp_that_ages_is_no_fading_strip(last: State) -> None:
    (one,) = alone(Plan(days=DAYS, last=last))
    assert (one.cause, one.told) == (Cause.LAMP, True)


@pytest.mark.parametrize("last", [State(blue_emitter=0.88), State(yellow_paper=0.04)])
def test_blue_lost_on_one_strip_and_scanner_cannot_be_told(last: State) -> None:
    (one,) = alone(Plan(days=DAYS, last=last))
    assert (one.cause, one.told) == (Cause.LAMP_OR_PAPER, False)
    assert "cannot tell which" in one.text
    assert "second strip" in one.next_step


def test_a_strip_that_fades_under_a_lamp_that_ages_gives_both() -> None:
    last = State(keep=(1, 0.85, 1, 1), phosphor=0.85)
    found = alone(Plan(days=DAYS, last=last))
    assert {one.cause for one in found} == {Cause.INK, Cause.LAMP}


def test_all_inks_fading_alike_and_a_tone_curve_cannot_be_told_apart_alone() -> None:
    for last in (State(keep=(0.88, 0.88, 0.88, 0.88)), State(gamma=0.95)):
        (one,) = alone(Plan(days=DAYS, last=last))
        assert (one.cause, one.told) == (Cause.TONE, False)


def test_a_second_strip_tells_all_inks_fading_from_a_tone_curve() -> None:
    second = {"strip": "second", "print_drift": 0.6, "days": DAYS}
    faded = said(
        Plan(days=DAYS, last=State(keep=(0.88, 0.88, 0.88, 0.88))),
        Plan(**second),  # type: ignore[arg-type]
    )
    assert [s.cause for s in faded["A", "first"]] == [Cause.INK]
    assert [s.cause for s in faded["A", "second"]] == [Cause.STEADY]
    curve = said(
        Plan(days=DAYS, last=State(gamma=0.95)),
        Plan(last=State(gamma=0.95), **second),  # type: ignore[arg-type]
    )
    assert {s.cause for one in curve.values() for s in one} == {Cause.SETTINGS}


def test_a_second_strip_tells_a_lamp_from_yellow_paper() -> None:
    lamp = State(blue_emitter=0.88)
    shown = said(
        Plan(days=DAYS, last=lamp), Plan(days=DAYS, strip="second", print_drift=0.6, last=lamp)
    )
    assert {s.cause for one in shown.values() for s in one} == {Cause.LAMP}
    kept = said(
        Plan(days=DAYS, last=State(yellow_paper=0.04)),
        Plan(days=DAYS, strip="second", print_drift=0.6),
    )
    assert [s.cause for s in kept["A", "first"]] == [Cause.PAPER]
    assert [s.cause for s in kept["A", "second"]] == [Cause.STEADY]


def test_a_second_scanner_tells_them_too() -> None:
    paper = State(yellow_paper=0.04)
    shown = said(Plan(days=DAYS, last=paper), Plan(days=DAYS, scanner="B", last=paper))
    assert {s.cause for one in shown.values() for s in one} == {Cause.PAPER}
    lamp = said(Plan(days=DAYS, last=State(blue_emitter=0.88)), Plan(days=DAYS, scanner="B"))
    assert [s.cause for s in lamp["A", "first"]] == [Cause.LAMP]
    assert [s.cause for s in lamp["B", "first"]] == [Cause.STEADY]


def test_the_strip_that_comes_after_tells_them_where_both_are_measured() -> None:
    then = {"strip": "second", "print_drift": 0.6, "start": "2026-07-10", "months": 2.0, "days": 4}
    old = State(blue_emitter=0.88)
    lamp = said(
        Plan(days=DAYS, last=old),
        Plan(first=old, last=old, **then),  # type: ignore[arg-type]
    )
    assert [s.cause for s in lamp["A", "first"]] == [Cause.LAMP]
    paper = said(
        Plan(days=DAYS, last=State(yellow_paper=0.05)),
        Plan(**then),  # type: ignore[arg-type]
    )
    assert [s.cause for s in paper["A", "first"]] == [Cause.PAPER]
    unmeasured = said(
        Plan(days=DAYS, kind="nominal", last=State(yellow_paper=0.05)),
        Plan(kind="nominal", **then),  # type: ignore[arg-type]
    )
    assert [s.cause for s in unmeasured["A", "first"]] == [Cause.LAMP_OR_PAPER]


@pytest.mark.parametrize(
    ("last", "cause"),
    [
        (State(exposure=0.92), Cause.SETTINGS),
        (State(gamma=1.06), Cause.SETTINGS),
        (State(reprint=-1.0), Cause.OTHER_PRINT),
    ],
)
def test_what_changed_in_a_day_did_not_age(last: State, cause: Cause) -> None:
    (one,) = alone(Plan(days=16, last=last, step_at=0.5))
    assert one.cause is cause
    assert "at once, between" in one.text


def test_few_days_are_said_to_be_few() -> None:
    (one,) = alone(Plan(days=5, last=State(keep=(1, 0.8, 1, 1))))
    assert one.cause is Cause.TOO_FEW
    assert "5 days" in one.text
