"""The command line: results, exit status, and one clear sentence for every mishap."""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from colormatch.cli.main import run
from demo.run import DemoFiles

Capture = pytest.CaptureFixture[str]


def test_check_says_use_it_and_ends_with_0(two_tiles: DemoFiles, capsys: Capture) -> None:
    status = run(["check", *map(str, two_tiles.scans), "--reference", str(two_tiles.reference)])
    out, err = capsys.readouterr()
    assert status == 0
    assert out.count("use it") == 2
    assert err == ""


def test_the_package_runs_as_the_command_does() -> None:
    words = [sys.executable, "-m", "colormatch", "--version"]
    done = subprocess.run(words, capture_output=True, text=True, check=True)
    assert done.stdout.startswith("colormatch")


@pytest.mark.parametrize("wished", [None, "2"])
def test_matrix_products_start_no_threads_unless_wished(wished: str | None) -> None:
    code = (
        "import psutil\nfrom colormatch.cli.main import main\n"
        "try:\n    main()\nexcept SystemExit:\n    import numpy\n"
        "    print('threads', psutil.Process().num_threads())"
    )
    others = {k: v for k, v in os.environ.items() if k != "OPENBLAS_NUM_THREADS"}
    chosen = others if wished is None else {**others, "OPENBLAS_NUM_THREADS": wished}
    words = [sys.executable, "-c", code, "--version"]
    done = subprocess.run(words, capture_output=True, text=True, check=True, env=chosen)
    threads = int(done.stdout.split()[-1])
    # OpenBLAS starts as many as it is told to, but no more than there are cores.
    assert threads == (1 if wished is None else min(2, os.cpu_count() or 1))


def test_json_holds_the_figures_of_every_tile(two_tiles: DemoFiles, capsys: Capture) -> None:
    arguments = ["check", *map(str, two_tiles.scans), "--reference", str(two_tiles.reference)]
    assert run([*arguments, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["schema"] == 1
    assert [Path(t["scan"]).name for t in data["tiles"]] == ["tile-1.tif", "tile-2.tif"]
    assert (
        0
        < data["tiles"][0]["colour"]["fitted"]["mean"]
        < data["tiles"][0]["colour"]["left_out"]["mean"]
    )


def test_a_measured_difference_above_the_tolerance_ends_with_3(
    two_tiles: DemoFiles, capsys: Capture
) -> None:
    # Nominal values of a strip that a home printer printed: off by several ΔE.
    status = run(["check", str(two_tiles.scans[0])])
    assert status == 3
    assert "above the figures" in capsys.readouterr().out


def test_target_writes_four_files_once(tmp_path: Path, capsys: Capture) -> None:
    assert run(["target", str(tmp_path)]) == 0
    assert {p.name for p in tmp_path.iterdir()} == {
        "strip.pdf",
        "strip.tif",
        "strip.toml",
        "strip.txt",
    }
    assert run(["target", str(tmp_path)]) == 1
    assert "exists already" in capsys.readouterr().err
    assert run(["target", str(tmp_path), "--force", "--length", "short"]) == 0


def test_target_names_its_sheets_by_lot_or_as_asked(tmp_path: Path, capsys: Capture) -> None:
    for folder in ("one", "other"):
        assert run(["target", str(tmp_path / folder)]) == 0
    texts = [(tmp_path / name / "strip.txt").read_text() for name in ("one", "other")]
    assert texts[0] != texts[1]
    assert run(["target", str(tmp_path / "again"), "--serial", "7f3-k2"]) == 0
    assert 'SERIAL "7F3-K2A 7F3-K2B"' in (tmp_path / "again" / "strip.txt").read_text()
    assert "7F3-K2A and 7F3-K2B" in (tmp_path / "again" / "strip.toml").read_text()
    capsys.readouterr()
    assert run(["target", str(tmp_path / "bad"), "--serial", "O01-I1"]) == 1
    assert "such as 7F3-K2" in capsys.readouterr().err
    assert not (tmp_path / "bad").exists()


def test_target_writes_a_sheet_for_own_paints_and_replaces_nothing(
    tmp_path: Path, capsys: Capture
) -> None:
    (tmp_path / "swatches.csv").write_text("mine")
    assert run(["target", str(tmp_path), "--swatches", "24"]) == 1
    assert "swatches.csv exists already" in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["swatches.csv"]
    assert run(["target", str(tmp_path), "--swatches", "24", "--force"]) == 0
    assert (tmp_path / "swatches.csv").read_text().count("\nP") == 24
    assert (tmp_path / "swatches.pdf").read_bytes().startswith(b"%PDF")
    assert run(["target", str(tmp_path / "more"), "--swatches", "61"]) == 2
    assert "6<=x<=60" in capsys.readouterr().err


def test_written_target_serves_as_layout_and_reference(
    two_tiles: DemoFiles, tmp_path: Path, capsys: Capture
) -> None:
    run(["target", str(tmp_path)])
    arguments = ["--layout", str(tmp_path / "strip.toml"), "--reference"]
    scan = str(two_tiles.scans[0])
    assert run(["check", scan, *arguments, str(two_tiles.reference)]) == 0
    assert run(["check", scan, *arguments, str(tmp_path / "strip.txt")]) == 3
    assert "nominal values" in capsys.readouterr().out


def picture(path: Path, pixels: np.ndarray) -> Path:
    tifffile.imwrite(path, pixels, photometric="rgb", resolution=(120, 120), resolutionunit=2)
    return path


def truncated(folder: Path, scan: Path) -> Path:
    path = folder / "scan.tif"
    path.write_bytes(scan.read_bytes()[:5000])
    return path


def not_a_picture(folder: Path, _: Path) -> Path:
    path = folder / "scan.tif"
    path.write_text("no picture")
    return path


def empty_file(folder: Path, _: Path) -> Path:
    path = folder / "scan.png"
    path.touch()
    return path


def one_pixel(folder: Path, _: Path) -> Path:
    return picture(folder / "scan.tif", np.zeros((1, 1, 3), np.uint8))


def all_white(folder: Path, _: Path) -> Path:
    return picture(folder / "scan.tif", np.full((900, 700, 3), 255, np.uint8))


def all_black(folder: Path, _: Path) -> Path:
    return picture(folder / "scan.tif", np.zeros((900, 700, 3), np.uint8))


def without_strip(folder: Path, scan: Path) -> Path:
    return picture(folder / "scan.tif", tifffile.imread(scan)[:880])


def half_a_strip(folder: Path, scan: Path) -> Path:
    return picture(folder / "scan.tif", tifffile.imread(scan)[:, :450])


def grey(folder: Path, _: Path) -> Path:
    path = folder / "scan.png"
    Image.new("L", (500, 500), 120).save(path)
    return path


def a_folder(folder: Path, _: Path) -> Path:
    return folder


def missing(folder: Path, _: Path) -> Path:
    return folder / "nothing.tif"


Maker = Callable[[Path, Path], Path]
BAD_SCANS: tuple[tuple[Maker, str], ...] = (
    (truncated, "scan.tif"),
    (not_a_picture, "scan.tif"),
    (empty_file, "scan.png"),
    (one_pixel, "too small"),
    (all_white, "white"),
    (all_black, "black"),
    (without_strip, "strip"),
    (half_a_strip, "strip"),
    (grey, "grey"),
    (a_folder, "folder"),
    (missing, "nothing.tif"),
)


@pytest.mark.parametrize(("make", "word"), BAD_SCANS, ids=lambda v: getattr(v, "__name__", v))
@pytest.mark.parametrize("command", ["check", "match"])
def test_a_bad_scan_gets_one_sentence_and_status_1(
    command: str, make: Maker, word: str, scan: Path, tmp_path: Path, capsys: Capture
) -> None:
    bad = make(tmp_path, scan)
    out = tmp_path / "out"
    more = ["--out", str(out)] if command == "match" else []
    assert run([command, str(bad), *more]) == 1
    said = "".join(capsys.readouterr())
    assert word in said
    assert "Traceback" not in said
    assert not out.exists()


def rewritten(text: str, edit: str) -> str:
    head, data = text.split("BEGIN_DATA\n")
    rows = data.split("END_DATA")[0].splitlines()
    if edit == "missing":
        rows = rows[:-5]
    elif edit == "nan":
        rows[3] = "\t".join([rows[3].split()[0], *["nan"] * (len(rows[3].split()) - 1)])
    elif edit == "other":
        values = [row.split()[1:] for row in rows]
        rows = [
            "\t".join([row.split()[0], *value])
            for row, value in zip(rows, values[17:] + values[:17], strict=True)
        ]
    return head + "BEGIN_DATA\n" + "\n".join(rows) + "\nEND_DATA\n"


@pytest.mark.parametrize(
    ("edit", "word"),
    [("missing", "no values for 5 of 65 patches"), ("nan", "nan"), ("other", "another sheet")],
)
def test_a_bad_reference_gets_one_sentence_and_status_1(
    edit: str, word: str, two_tiles: DemoFiles, tmp_path: Path, capsys: Capture
) -> None:
    reference = tmp_path / "bad.txt"
    text = two_tiles.reference.read_text(encoding="utf-8")
    reference.write_text(rewritten(text, edit), encoding="utf-8")
    assert run(["check", str(two_tiles.scans[0]), "--reference", str(reference)]) == 1
    said = "".join(capsys.readouterr())
    assert word in said.lower()
    assert "Traceback" not in said


def test_comma_decimals_are_never_misread(
    two_tiles: DemoFiles, tmp_path: Path, capsys: Capture
) -> None:
    reference = tmp_path / "comma.txt"
    head, data = two_tiles.reference.read_text(encoding="utf-8").split("BEGIN_DATA\n")
    reference.write_text(head + "BEGIN_DATA\n" + data.replace(".", ","), encoding="utf-8")
    status = run(["check", str(two_tiles.scans[0]), "--reference", str(reference)])
    said = "".join(capsys.readouterr())
    assert status in (0, 1)
    assert "comma" in said.lower()


@pytest.mark.parametrize(
    "arguments",
    [
        [],
        ["check"],
        ["match", "a.tif"],
        ["check", "a.tif", "--tolerance", "strict"],
        ["match", "a.tif", "--out", "o", "--format", "jpeg", "--bits", "16"],
        ["polish"],
    ],
)
def test_wrong_usage_ends_with_2(arguments: list[str], capsys: Capture) -> None:
    assert run(arguments) == 2
    assert "".join(capsys.readouterr())


@pytest.mark.skipif(os.getuid() == 0, reason="root may write anywhere")
def test_a_folder_that_cannot_be_written_gets_a_sentence(
    two_tiles: DemoFiles, tmp_path: Path, capsys: Capture
) -> None:
    tmp_path.chmod(0o500)
    assert run(["match", str(two_tiles.scans[0]), "--out", str(tmp_path / "out")]) == 1
    assert "cannot be made" in capsys.readouterr().err


def test_a_full_disk_gets_a_sentence_and_leaves_nothing(
    two_tiles: DemoFiles, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    arguments = ["match", str(two_tiles.scans[0]), "--out", str(out), "--compression", "none"]

    def small_files() -> None:
        import signal

        signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
        resource.setrlimit(resource.RLIMIT_FSIZE, (500_000, 500_000))

    done = subprocess.run(
        [
            sys.executable,
            "-c",
            f"from colormatch.cli.main import run; raise SystemExit(run({arguments}))",
        ],
        capture_output=True,
        text=True,
        check=False,
        preexec_fn=small_files,
    )
    assert done.returncode == 1
    assert done.stderr.startswith("colormatch: ")
    assert "Traceback" not in done.stderr
    assert list(out.iterdir()) == []
