"""The words for which map is in use and why, and for what is doubtful."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from colormatch.fitting.deciding import Decision, Model, WhyNot, decide
from colormatch.fitting.paints import trusted
from colormatch.job.fit import FittedTile
from colormatch.job.matching import profile_remark
from colormatch.job.swatch_report import doubts, paint_patches, why
from tests.fitting.paint_rows import bent, plain_matrix
from tests.fitting.test_deciding import rows_where


def decision(*, paints: int = 24) -> Decision:
    rows = rows_where(bent, paints=paints)
    return decide(rows, plain_matrix(rows), [rows.light[rows.paint]])


def test_a_root_polynomial_is_justified_by_gain_and_cover() -> None:
    text = why(decision())
    assert "off the error on paints left out (15% are asked)" in text
    assert "of the picture's hues (95% are asked)" in text


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"why_not": WhyNot.GAIN, "gain": 0.08}, "would take off only 8% more (15% are asked)"),
        ({"why_not": WhyNot.GAIN, "gain": -0.2}, "would add to that error"),
        ({"why_not": WhyNot.COVER, "cover": 0.81}, "cover 95% of the picture's hues (here 81%)"),
        ({"why_not": WhyNot.FLAT}, "paints of several hues"),
        ({"why_not": WhyNot.FEW}, "asks for 12 paints or more (here 24)"),
    ],
)
def test_a_3x3_says_why_the_root_polynomial_was_not_used(
    changes: dict[str, object], words: str
) -> None:
    chosen = replace(decision(), model=Model.PAINTS, **changes)  # type: ignore[arg-type]
    text = why(chosen)
    assert words in text
    assert "on paints left out it is off by" in text
    assert "the strip's own 3x3 by" in text


def test_the_strips_own_3x3_says_why_paints_were_not_followed() -> None:
    of_others = replace(decision(), model=Model.STRIP, cover=0.3, why_not=WhyNot.COVER)
    assert "cover only 30% of the picture's hues, so they are not its own" in why(of_others)
    alike = replace(decision(), model=Model.STRIP, why_not=WhyNot.GAIN, gain=0.1)
    assert "not clearly less (5% are asked)" in why(alike)


def test_a_paint_that_contradicts_the_others_is_named_with_what_to_check() -> None:
    rows = rows_where(bent)
    wrong = int(np.flatnonzero(rows.paint)[4])
    xyz = rows.xyz.copy()
    xyz[wrong] = xyz[wrong][::-1] * 1.4
    spoilt = replace(rows, xyz=xyz)
    spoilt = replace(spoilt, trust=trusted(spoilt, plain_matrix(spoilt)))
    said = doubts(decide(spoilt, plain_matrix(spoilt), []))
    assert any(line.startswith(f"{rows.ids[wrong]} contradicts") for line in said)
    assert all("check its number" in line for line in said)


def test_every_paint_is_listed_with_both_errors() -> None:
    chosen = decision()
    listed = paint_patches(chosen)
    assert len(listed) == 24
    fit = chosen.fits[chosen.model]
    assert listed[0].left_out == pytest.approx(fit.left_out[chosen.rows.paint][0])


def test_an_input_profile_says_what_of_a_root_polynomial_it_lacks() -> None:
    chosen = decision()
    nothing: Any = None
    fitted = FittedTile(
        tile=nothing, choice=nothing, index=0, judgement=nothing, group=(), profile_note="",
        decision=chosen,
    )  # fmt: skip
    assert profile_remark(fitted) == " (3x3 only, without root-polynomial)"
    assert profile_remark(replace(fitted, decision=replace(chosen, model=Model.PAINTS))) == ""
