"""What the colours may be called."""

from __future__ import annotations

from dataclasses import replace

from colormatch.reporting.headline import claim, headline
from colormatch.reporting.page import html_page
from colormatch.reporting.terminal import text_report
from tests.reporting.records import report, tile


def test_only_measured_values_make_true_colour() -> None:
    fit = report(tile(mean=0.6))
    assert claim(fit) == "true colour within ± 0.6 ΔE2000 (mean on the strip), as it was measured"
    # Errors that have nothing to do with each other add as squares: 0.6 and 0.8 make 1.0.
    assert "within ± 1.0 ΔE2000" in claim(replace(fit, reference_uncertainty=0.8))


def test_carried_over_values_make_it_within_their_uncertainty() -> None:
    carried = replace(
        report(tile(mean=0.3), kind="carried over"),
        reference_uncertainty=0.4,
        reference_facts={"source": "carried over from known.txt (measured) by 3 scans"},
    )
    for text in (claim(carried), text_report(carried), html_page(carried)):
        assert "true colour within ± 0.5 ΔE2000" in text
        assert "± 0.4 of it from its values, carried over from known.txt" in text
    assert headline(carried).to_do == headline(report()).to_do
    unstated = replace(carried, reference_uncertainty=None)
    assert "an amount not stated of it" in claim(unstated)


def test_nominal_values_never_do() -> None:
    nominal = report(kind="nominal")
    assert claim(nominal).startswith("tiles agree, no more")
    assert "true colour" not in text_report(nominal)
    assert headline(nominal).to_do.startswith("Have the strip measured")
    assert "colormatch transfer" in headline(nominal).to_do
