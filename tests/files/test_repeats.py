"""Repeated readings of one patch, of one file and of several."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.errors import ReferenceFileError
from colormatch.files.reference_sets import read_references
from colormatch.files.references import parse_reference, reference_text
from colormatch.files.repeats import repeated
from colormatch.model import FloatArray, Reference

LAB = np.array([[52.0, 10.0, -8.0], [90.0, 0.0, 2.0], [20.0, 3.0, 3.0], [60.0, -30.0, 25.0]])
IDS = ("A1", "A2", "A3", "A4")


def reference(lab: FloatArray, kind: str = "measured", serial: str = "") -> Reference:
    facts = {"serial": serial} if serial else {}
    return Reference(ids=IDS, xyz=xyz_from_lab(lab), kind=kind, facts=facts)


def file(folder: Path, name: str, values: Reference) -> Path:
    path = folder / name
    path.write_text(reference_text(values, "card"), encoding="utf-8")
    return path


def noisy(count: int, noise: float = 0.2, seed: int = 0) -> list[FloatArray]:
    rng = np.random.default_rng(seed)
    return [LAB + noise * rng.standard_normal(LAB.shape) for _ in range(count)]


def test_the_mean_of_readings_is_as_sure_as_statistics_say() -> None:
    rng = np.random.default_rng(1)
    grey = xyz_from_lab(np.array([[60.0, 0.0, 0.0]]))
    found = []
    for _ in range(300):
        # Lightness alone, where ΔE2000 is ΔL*/SL, SL = 1 + 0.015 (L*-50)^2 / sqrt(20 + (L*-50)^2)
        # (ISO/CIE 11664-6).
        lab = lab_from_xyz(grey) + np.array([[0.3, 0, 0]]) * rng.standard_normal((8, 1))
        found.append(repeated(xyz_from_lab(lab)))
    weight = 1 + 0.015 * 100 / np.sqrt(120)
    spread = np.sqrt(np.mean([one.spread**2 for one in found]))
    assert spread == pytest.approx(0.3 / weight, rel=0.05)
    means = np.array([lab_from_xyz(one.xyz)[0] for one in found])
    assert means.std() == pytest.approx(0.3 / np.sqrt(8), rel=0.12)
    assert found[0].error == pytest.approx(found[0].spread / np.sqrt(8))


def test_a_reading_far_from_the_others_is_left_out() -> None:
    lab = np.array([[50, 0, 0], [50.1, 0, 0], [49.9, 0.1, 0], [56, 0, 0]], dtype=float)
    one = repeated(xyz_from_lab(lab))
    assert one.kept.tolist() == [True, True, True, False]
    assert lab_from_xyz(one.xyz)[0] == pytest.approx(50.0, abs=0.02)
    assert one.agree


def test_a_file_with_several_readings_is_averaged_and_says_so() -> None:
    sets = noisy(4)
    sets[2][1] += [0, 0, 9]
    first, *others = (reference_text(reference(lab), "card") for lab in sets)
    rows = [text[text.index("BEGIN_DATA\n") + 11 : text.index("END_DATA\n")] for text in others]
    text = first.replace("END_DATA\n", "".join(rows) + "END_DATA\n").replace("SETS 4", "SETS 16")
    read = parse_reference(text.encode(), "four.txt")
    assert read.ids == IDS
    kept = [lab[1] for i, lab in enumerate(sets) if i != 2]
    assert lab_from_xyz(read.xyz)[1] == pytest.approx(np.mean(kept, axis=0), abs=0.05)
    (note,) = read.notes
    assert "averaged: A1, A2, A3, A4 (4 readings each" in note
    assert note.endswith("left out as outliers: A2 (1)")
    assert read.sigma is not None
    assert 0.02 < read.sigma.mean() < 0.3


def test_several_files_are_averaged_as_one(tmp_path: Path) -> None:
    sets = noisy(3)
    paths = [
        file(tmp_path, f"{i}.txt", reference(lab, serial="7F3-K2A")) for i, lab in enumerate(sets)
    ]
    read = read_references(paths)
    assert lab_from_xyz(read.xyz) == pytest.approx(np.mean(sets, axis=0), abs=0.02)
    assert read.serials == ("7F3-K2A",)
    assert read.path == paths[0]
    assert any("3 readings each" in note for note in read.notes)
    assert read_references(paths[:1]).sigma is None


def test_files_of_different_sheets_or_kinds_are_not_mixed(tmp_path: Path) -> None:
    one = file(tmp_path, "one.txt", reference(LAB, serial="7F3-K2A"))
    other = file(tmp_path, "other.txt", reference(LAB, serial="7F3-K2B"))
    with pytest.raises(ReferenceFileError, match="only values of one sheet can be averaged"):
        read_references([one, other])
    nominal = file(tmp_path, "nominal.txt", reference(LAB, kind="nominal"))
    with pytest.raises(ReferenceFileError, match="its values are nominal"):
        read_references([one, nominal])


def test_readings_of_different_colours_are_refused(tmp_path: Path) -> None:
    yellower = np.array([0.0, 0.0, 6.0])
    paths = [file(tmp_path, f"{i}.txt", reference(LAB + i * yellower)) for i in range(4)]
    with pytest.raises(ReferenceFileError, match="its 4 readings differ"):
        read_references(paths)


def test_uncertainties_and_kind_come_back_from_the_text(tmp_path: Path) -> None:
    written = Reference(
        ids=IDS,
        xyz=xyz_from_lab(LAB),
        kind="carried over",
        sigma=np.array([0.2, 0.3, 0.4, 0.9]),
        facts={"source": "carried over from known.txt by 3 scans"},
    )
    read = read_references([file(tmp_path, "carried.txt", written)])
    assert read.kind == "carried over"
    assert read.sigma == pytest.approx(written.sigma)
    assert read.uncertainty == pytest.approx(0.45)
    assert read.facts["source"] == "carried over from known.txt by 3 scans"


def test_a_faulty_column_of_uncertainties_is_left_out_with_a_word() -> None:
    values = Reference(ids=IDS, xyz=xyz_from_lab(LAB), kind="measured", sigma=np.full(4, 0.25))
    text = reference_text(values, "card").replace("0.250000", "-0.250000")
    read = parse_reference(text.encode(), "odd.txt")
    assert read.sigma is None
    assert any("STDEV_DE is out of range" in note for note in read.notes)
