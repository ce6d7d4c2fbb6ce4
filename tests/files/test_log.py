"""The log: whole rows, two writers, foreign files untouched, failures said."""

from __future__ import annotations

import os
import sqlite3
import struct
import subprocess
import sys
from contextlib import closing
from pathlib import Path

import pytest

from colormatch.errors import LogFileError, OutputError
from colormatch.files import log as module
from colormatch.files.log import APPLICATION_ID, VERSION, append_log, read_log, refuse_other
from colormatch.files.log_rows import COLUMNS
from tests.files.log_entries import entry, unusable

ROOT = Path(__file__).parents[2]


def test_rows_come_back_as_they_were_in_the_order_of_time(tmp_path: Path) -> None:
    path = tmp_path / "studio.log"
    later, first = entry(time="2026-04-01T00:00:00Z"), entry(scan="Ä 'b';--.tif")
    append_log(path, [later])
    append_log(path, [first, unusable()])
    assert read_log(path) == [first, unusable(), later]
    assert [p.name for p in tmp_path.iterdir()] == ["studio.log"]


def test_the_header_says_whose_file_it_is_and_of_what_version(tmp_path: Path) -> None:
    path = tmp_path / "studio.log"
    append_log(path, [entry()])
    # SQLite's "Database File Format", 1.3: user version at offset 60, application ID at 68.
    assert struct.unpack(">I", path.read_bytes()[60:64]) == (VERSION,)
    assert struct.unpack(">I", path.read_bytes()[68:72]) == (APPLICATION_ID,)


def test_the_table_is_the_one_that_is_documented(tmp_path: Path) -> None:
    path = tmp_path / "studio.log"
    append_log(path, [entry()])
    with closing(sqlite3.connect(path)) as base:
        names = [row[1] for row in base.execute("PRAGMA table_info(scan)")]
    assert names == ["id", *(name for name, _ in COLUMNS)]
    documented = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    for name in names:
        assert f"`{name}`" in documented, name


def foreign(folder: Path, kind: str) -> Path:
    path = folder / "theirs"
    if kind == "text":
        path.write_text("my notes\n" * 40)
    elif kind == "short":
        path.write_bytes(b"SQLite format 3\0")
    elif kind == "database":
        with closing(sqlite3.connect(path)) as base:
            base.execute("CREATE TABLE scan (id INTEGER)")
            base.commit()
    else:
        append_log(path, [entry()])
        with closing(sqlite3.connect(path)) as base:
            base.execute(f"PRAGMA user_version = {VERSION + 1}")
    return path


@pytest.mark.parametrize(
    ("kind", "said"),
    [
        ("text", "no log of colormatch"),
        ("short", "no log of colormatch"),
        ("database", "database of another program"),
        ("newer", "newer colormatch"),
    ],
)
def test_a_file_that_is_not_ours_is_refused_and_not_touched(
    tmp_path: Path, kind: str, said: str
) -> None:
    path = foreign(tmp_path, kind)
    before, changed = path.read_bytes(), path.stat().st_mtime_ns
    for act in (refuse_other, read_log, lambda p: append_log(p, [entry()])):
        with pytest.raises(LogFileError, match=said):
            act(path)
    assert path.read_bytes() == before
    assert path.stat().st_mtime_ns == changed
    assert [p.name for p in tmp_path.iterdir()] == ["theirs"]


def test_a_database_that_became_another_after_the_first_look_is_not_touched(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = foreign(tmp_path, "database")
    before = path.read_bytes()
    monkeypatch.setattr(module, "refuse_other", lambda _: None)
    with pytest.raises(LogFileError, match="another program"):
        append_log(path, [entry()])
    assert path.read_bytes() == before


def test_any_name_will_do(tmp_path: Path) -> None:
    path = tmp_path / "100 % what?#now Ä.log"
    append_log(path, [entry()])
    assert read_log(path) == [entry()]
    assert [p.name for p in tmp_path.iterdir()] == [path.name]


def test_an_empty_file_becomes_a_log(tmp_path: Path) -> None:
    path = tmp_path / "new.log"
    path.touch()
    assert read_log(path) == []
    append_log(path, [entry()])
    assert len(read_log(path)) == 1


def test_no_log_and_a_folder_are_said(tmp_path: Path) -> None:
    with pytest.raises(LogFileError, match="there is no log"):
        read_log(tmp_path / "none")
    with pytest.raises(LogFileError, match="is a folder"):
        refuse_other(tmp_path)


def test_a_folder_that_does_not_exist_is_said_and_nothing_is_left(tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="check that its folder exists"):
        append_log(tmp_path / "none" / "studio.log", [entry()])
    assert not list(tmp_path.iterdir())


def test_a_row_that_cannot_be_written_takes_its_fellows_with_it(tmp_path: Path) -> None:
    path = tmp_path / "studio.log"
    append_log(path, [entry()])
    with pytest.raises(ValueError, match="JSON"):
        append_log(path, [entry(), entry(matrix=((float("nan"),) * 3,))])
    assert len(read_log(path)) == 1
    append_log(path, [entry()])
    assert len(read_log(path)) == 2


@pytest.mark.parametrize(
    "damage",
    [
        "patches = '[[1]]'",
        "patches = '[[\"A\",[NaN,0,0],null,null,null,null]]'",
        "patches = '{'",
        "matrix = '[1]'",
        "time = 'yesterday'",
        "findings = '3'",
        "gain_red = 'much'",
    ],
)
def test_a_damaged_row_is_named(tmp_path: Path, damage: str) -> None:
    path = tmp_path / "studio.log"
    append_log(path, [entry(), entry()])
    with closing(sqlite3.connect(path)) as base:
        base.execute(f"UPDATE scan SET {damage} WHERE id = 2")
        base.commit()
    with pytest.raises(LogFileError, match="row 2 is damaged"):
        read_log(path)


WRITER = """
import sys
sys.path.insert(0, {root!r})
from pathlib import Path
from colormatch.files.log import append_log
from tests.files.log_entries import entry
for k in range(25):
    append_log(Path({path!r}), [entry(job={name!r}, scan=f"{{k}}.tif")] * 2)
"""


def test_two_processes_write_to_one_new_log_and_lose_nothing(tmp_path: Path) -> None:
    path = tmp_path / "studio.log"
    codes = [WRITER.format(root=str(ROOT), path=str(path), name=name) for name in ("one", "two")]
    running = [subprocess.Popen([sys.executable, "-c", code]) for code in codes]
    assert [one.wait(timeout=120) for one in running] == [0, 0]
    rows = read_log(path)
    assert sorted(row.job for row in rows) == ["one"] * 50 + ["two"] * 50


FULL = """
import resource, signal, sys
sys.path.insert(0, {root!r})
from pathlib import Path
from colormatch.errors import OutputError
from colormatch.files.log import append_log
from tests.files.log_entries import entry
# The system refuses to let any file grow past this, as on a full disk.
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, ({limit}, {limit}))
try:
    append_log(Path({path!r}), [entry()] * 200)
except OutputError as error:
    print(error)
"""


@pytest.mark.skipif(os.name != "posix", reason="limits on file sizes are POSIX")
@pytest.mark.parametrize("there", [False, True])
def test_a_disk_without_room_is_said_and_leaves_the_log_as_it_was(
    tmp_path: Path, there: bool
) -> None:
    path = tmp_path / "studio.log"
    if there:
        append_log(path, [entry()])
    code = FULL.format(root=str(ROOT), path=str(path), limit=30_000)
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "could not be written" in done.stdout
    assert "the verdict above stands" in done.stdout
    assert path.exists() == there
    if there:
        assert read_log(path) == [entry()]


def test_a_log_that_another_program_keeps_locked_is_said(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "studio.log"
    append_log(path, [entry()])
    monkeypatch.setattr(module, "WAIT", 0.05)
    with closing(sqlite3.connect(path)) as base:
        base.execute("BEGIN EXCLUSIVE")
        with pytest.raises(OutputError, match="keeps it locked"):
            append_log(path, [entry()])
    assert len(read_log(path)) == 1
