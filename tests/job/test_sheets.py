"""Which values belong to which strip."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from colormatch.errors import ReferenceFileError
from colormatch.files.layouts import layout_text, shipped_layouts, shipped_reference
from colormatch.files.reference_folder import Filed, read_folder
from colormatch.files.references import reference_text
from colormatch.job.reference_findings import other_sheet_finding
from colormatch.job.sheets import Values, filed_values, given_values, least_trusted
from colormatch.model import Reference, StripReading
from colormatch.verdict import Advice, Kind

LAYOUTS = shipped_layouts()
LONG = LAYOUTS["strip-long"]


def strip(serial: str = "", symbol: str = "", layout: str = "strip-long") -> StripReading:
    """Give a strip as found; of its readings nothing is asked here."""
    count = len(LAYOUTS[layout].patches)
    return StripReading(
        layout=LAYOUTS[layout], px_from_mm=np.eye(2, 3), marks_px={}, marks_residual=0.0,
        centres=np.zeros((count, 2)), rgb=np.zeros((count, 3)), spread=np.zeros((count, 3)),
        inliers=np.ones(count), clipped=np.zeros(count), halves=np.zeros((count, 2, 3)),
        usable=np.ones(count, bool), serial=serial,
        symbol=symbol or ("read" if serial else "unreadable"),
    )  # fmt: skip


def values(serial: str = "", kind: str = "measured", layout: str = "strip-long") -> Reference:
    facts = {"serial": serial} if serial else {}
    return replace(shipped_reference(layout), kind=kind, facts=facts, path=Path("mine.txt"))


def folder(place: Path, **files: Reference) -> Filed:
    """Leave files in a folder and read it."""
    for name, reference in files.items():
        layout = "strip-long" if len(reference.ids) == len(LONG.patches) else "strip-short"
        path = place / f"{name.replace('_', '-')}.txt"
        path.write_text(reference_text(reference, layout), encoding="utf-8")
    return read_folder(place)


def test_values_of_the_strips_own_sheet_are_taken_silently() -> None:
    for serials in ("7F3-K2A", "7F3-K2A 7F3-K2B"):
        given = given_values("a.tif", strip("7F3-K2A"), values(serials), any_sheet=False)
        assert given.assumed == ()


def test_values_of_another_sheet_are_refused_unless_the_user_says_otherwise() -> None:
    other = values("7F3-K2B")
    with pytest.raises(ReferenceFileError) as caught:
        given_values("a.tif", strip("7F3-K2A"), other, any_sheet=False)
    for words in ("a.tif", "sheet 7F3-K2A", "mine.txt", "7F3-K2B", "same page", "--any-sheet"):
        assert words in str(caught.value)
    assert given_values("a.tif", strip("7F3-K2A"), other, any_sheet=True).reference is other
    finding = other_sheet_finding(strip("7F3-K2A"), other)
    assert finding is not None
    assert (finding.kind, finding.advice) == (Kind.STRIP_OTHER_SHEET, Advice.CARE)
    for own in (strip("7F3-K2B"), strip()):
        assert other_sheet_finding(own, other) is None
    # Nominal values are the design's, not a sheet's.
    nominal = values("7F3-K2B", kind="nominal")
    assert given_values("a.tif", strip("ZZZ-22A"), nominal, any_sheet=False).assumed == ()


@pytest.mark.parametrize(
    ("symbol", "words"),
    [
        ("not printed", "bears no symbol"),
        ("unreadable", "cannot be read"),
        ("SS1 7F3-K2A", "the symbol of another design (SS1 7F3-K2A)"),
    ],
)
def test_what_no_symbol_proves_is_said(symbol: str, words: str) -> None:
    given = given_values("a.tif", strip(symbol=symbol), values("7F3-K2A"), any_sheet=False)
    assert words in given.assumed[0]
    assert "mine.txt, 7F3-K2A" in given.assumed[0]
    nameless = given_values("a.tif", strip("7F3-K2A"), values(), any_sheet=False)
    assert "states no serial" in nameless.assumed[0]


def test_numbers_of_other_programs_and_designs_without_symbol_are_no_matter() -> None:
    other = values("1204551 B")
    given = given_values("a.tif", strip("7F3-K2A"), other, any_sheet=False)
    assert "states no serial" in given.assumed[0]
    bare = strip(symbol="not printed")
    chart = replace(bare, layout=replace(LONG, symbol=None))
    assert given_values("a.tif", chart, values("7F3-K2A"), any_sheet=False).assumed == ()


def test_a_folder_gives_each_strip_its_own(tmp_path: Path) -> None:
    filed = folder(
        tmp_path,
        first=values("AAA-22A"),
        second=values("AAA-22B"),
        short=values("BBB-33A", layout="strip-short"),
        nominal=values("AAA-22A AAA-22B", kind="nominal"),
        scan_of_CCC_44A=values(),
    )
    (tmp_path / "notes.txt").write_text("buy paper")
    assert read_folder(tmp_path).skipped == ("notes.txt",)

    def found(serial: str, layout: str = "strip-long") -> Values:
        return filed_values("a.tif", strip(serial, layout=layout), filed)

    assert found("AAA-22A").reference.path == tmp_path / "first.txt"
    assert found("AAA-22B").reference.path == tmp_path / "second.txt"
    assert found("BBB-33A", "strip-short").reference.path == tmp_path / "short.txt"
    assert found("CCC-44A").reference.path == tmp_path / "scan-of-CCC-44A.txt"
    with pytest.raises(ReferenceFileError, match=r"holds no values of it .*first\.txt of AAA-22A"):
        found("ZZZ-99A")


def test_measured_values_go_before_carried_over_ones_and_these_before_nominal(
    tmp_path: Path,
) -> None:
    sheet = strip("AAA-22A")
    nominal = values("AAA-22A AAA-22B", kind="nominal")
    filed = folder(tmp_path, nominal=nominal)
    assert filed_values("a.tif", sheet, filed).reference.kind == "nominal"
    filed = folder(tmp_path, carried=values("AAA-22A", kind="carried over"))
    assert filed_values("a.tif", sheet, filed).reference.kind == "carried over"
    filed = folder(tmp_path, measured=values("AAA-22A"))
    assert filed_values("a.tif", sheet, filed).reference.kind == "measured"
    filed = folder(tmp_path, again=values("AAA-22A"))
    with pytest.raises(ReferenceFileError, match=r"2 files .* \(again\.txt, measured\.txt\)"):
        filed_values("a.tif", sheet, filed)


def test_a_strip_without_serial_gets_the_only_values_there_are(tmp_path: Path) -> None:
    filed = folder(tmp_path, only=values("AAA-22A"))
    given = filed_values("a.tif", strip(), filed)
    assert given.reference.path == tmp_path / "only.txt"
    assert "cannot be read" in given.assumed[0]
    filed = folder(tmp_path, other=values("BBB-33A"))
    with pytest.raises(ReferenceFileError, match=r"2 files .* could be meant"):
        filed_values("a.tif", strip(), filed)
    with pytest.raises(ReferenceFileError, match=r"no file in .* holds values for strip-short"):
        filed_values("a.tif", strip(layout="strip-short"), filed)


def test_a_folder_without_references_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReferenceFileError, match="cannot read the folder"):
        read_folder(tmp_path / "none")
    (tmp_path / "notes.txt").write_text("buy paper")
    with pytest.raises(ReferenceFileError, match=r"no file in it .*notes\.txt"):
        read_folder(tmp_path)


def test_designs_kept_in_the_folder_are_known(tmp_path: Path) -> None:
    (tmp_path / "card.toml").write_text(layout_text(replace(LONG, name="card")))
    assert set(folder(tmp_path, one=values()).layouts) == {"card"}


def test_a_report_speaks_of_the_least_trusted_values() -> None:
    sure, less = values("AAA-22A"), values("AAA-22B", kind="carried over")
    assert least_trusted([sure, less]) is less
