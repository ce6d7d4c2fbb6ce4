"""What the colours may be called."""

from __future__ import annotations

from dataclasses import replace

from colormatch.reporting.headline import claim, headline
from colormatch.reporting.page import html_page
from colormatch.reporting.terminal import text_report
from tests.reporting.records import report


def test_only_measured_values_make_true_colour() -> None:
    assert claim(report()) == "true colour, as the strip was measured"
    assert "true colour within ± 0.2 ΔE2000" in claim(replace(report(), reference_uncertainty=0.21))


def test_carried_over_values_make_it_within_their_uncertainty() -> None:
    carried = replace(
        report(kind="carried over"),
        reference_uncertainty=0.42,
        reference_facts={"source": "carried over from known.txt (measured) by 3 scans"},
    )
    for text in (claim(carried), text_report(carried), html_page(carried)):
        assert "true colour within ± 0.4 ΔE2000" in text
        assert "carried over from known.txt" in text
    assert headline(carried).to_do == headline(report()).to_do
    unstated = replace(carried, reference_uncertainty=None)
    assert "how closely is not stated" in claim(unstated)


def test_nominal_values_never_do() -> None:
    nominal = report(kind="nominal")
    assert claim(nominal).startswith("tiles agree, no more")
    assert "true colour" not in text_report(nominal)
    assert "measured and give the file" in headline(nominal).to_do
