"""The studio's log: one SQLite file, one row per scan, only ever added to."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

from colormatch.errors import LogFileError, OutputError
from colormatch.files.log_rows import COLUMNS, entry_of, values_of
from colormatch.logbook import LogEntry

APPLICATION_ID = 0x436D4C67
"""In the file's header (SQLite file format, 1.3, offset 68): ours alone."""
VERSION = 1
"""Of the table, in ``PRAGMA user_version`` (offset 60)."""
MAGIC = b"SQLite format 3\0"
WAIT = 20.0
"""Seconds to wait for another program that writes to the log."""

TABLE = f"CREATE TABLE scan (id INTEGER PRIMARY KEY, {', '.join(f'{n} {t}' for n, t in COLUMNS)})"
INDEX = "CREATE INDEX scan_by_series ON scan (scanner, strip, time)"


def refuse_other(path: Path) -> None:
    """Refuse a file that is no log of ours, without opening it as a database.

    Raises
    ------
    LogFileError
        If it is another file, of a newer version, a folder, or cannot be read.
    """
    try:
        if path.is_dir():
            raise LogFileError(f"{path} is a folder: give the name of a log file")
        if not path.exists():
            return
        with path.open("rb") as file:
            head = file.read(100)
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise LogFileError(f"{path} cannot be read ({reason}): check its permissions") from error
    # Nothing in it: either just made by another process, or by the user's hand.
    if not head:
        return
    if not head.startswith(MAGIC) or len(head) < 100:
        raise LogFileError(
            f"{path} is no log of colormatch and is left as it is: choose another name"
        )
    _refuse_numbers(path, int.from_bytes(head[68:72], "big"), int.from_bytes(head[60:64], "big"))


def _refuse_numbers(path: Path, application: int, version: int) -> None:
    if application != APPLICATION_ID:
        raise LogFileError(
            f"{path} is a database of another program and is left as it is: choose another name"
        )
    if version > VERSION or version < 1:
        raise LogFileError(
            f"{path} was written by a newer colormatch (its table is version {version}, this "
            f"program knows {VERSION}) and is left as it is: update colormatch, or choose "
            "another name"
        )


def append_log(path: Path, entries: Sequence[LogEntry]) -> None:
    """Add rows to a log, all or none; the file is made if it does not exist.

    Another process may write to the same log: one waits for the other.

    Raises
    ------
    LogFileError
        If the file is no log of ours; it is left untouched.
    OutputError
        If the rows cannot be written.
    """
    refuse_other(path)
    with _writing(path), closing(_connected(path, "rwc")) as base:
        try:
            # From here on nobody else writes, so what is seen stays so.
            base.execute("BEGIN IMMEDIATE")
            _prepare(path, base)
            names = ", ".join(name for name, _ in COLUMNS)
            marks = ", ".join("?" for _ in COLUMNS)
            base.executemany(
                f"INSERT INTO scan ({names}) VALUES ({marks})", map(values_of, entries)
            )
            base.execute("COMMIT")
        except BaseException:
            if base.in_transaction:
                base.execute("ROLLBACK")
            raise


def _connected(path: Path, mode: str) -> sqlite3.Connection:
    # A URI, because only there can a file be opened without being made.
    where = f"{path.absolute().as_uri()}?mode={mode}"
    return sqlite3.connect(where, uri=True, timeout=WAIT, isolation_level=None)


def _prepare(path: Path, base: sqlite3.Connection) -> None:
    """Make the table in an empty file; look again at one that is not."""
    application = base.execute("PRAGMA application_id").fetchone()[0]
    version = base.execute("PRAGMA user_version").fetchone()[0]
    empty = base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0] == 0
    if empty and application == 0 and version == 0:
        base.execute(TABLE)
        base.execute(INDEX)
        base.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        base.execute(f"PRAGMA user_version = {VERSION}")
        return
    _refuse_numbers(path, application, version)


@contextmanager
def _writing(path: Path) -> Iterator[None]:
    """Turn what the database says into a sentence; leave no empty file behind."""
    there = path.exists()
    try:
        yield
    except (sqlite3.Error, OSError) as error:
        if not there:
            _remove_empty(path)
        raise OutputError(
            f"the log {path} could not be written ({_reason(error)}); the verdict above stands, "
            "but these scans are not in the log"
        ) from error


def _remove_empty(path: Path) -> None:
    try:
        if path.stat().st_size == 0:
            path.unlink()
    except OSError:
        return


def _reason(error: Exception) -> str:
    text = str(getattr(error, "strerror", None) or error).lower()
    if "locked" in text:
        return "another program keeps it locked; close it and run the command again"
    if "full" in text:
        return "the disk is full; free some space and run the command again"
    if "readonly" in text or "read-only" in text or "permission" in text:
        return "it may not be written to; change its permissions"
    if "unable to open" in text:
        return "it cannot be opened or made; check that its folder exists and may be written to"
    if "malformed" in text or "not a database" in text:
        return "the file is damaged; keep it, and choose another name"
    return text


def read_log(path: Path) -> list[LogEntry]:
    """Read a whole log, in the order of time.

    Raises
    ------
    LogFileError
        If there is none, it is no log of ours, or it is damaged.
    """
    if not path.exists():
        raise LogFileError(f"there is no log {path}: check its name and folder")
    refuse_other(path)
    if path.stat().st_size == 0:
        return []
    try:
        with closing(_connected(path, "ro")) as base:
            base.row_factory = sqlite3.Row
            rows = base.execute("SELECT * FROM scan ORDER BY time, id").fetchall()
    except sqlite3.Error as error:
        raise LogFileError(f"{path} cannot be read: {_reason(error)}") from error
    return [entry_of(dict(row), str(path)) for row in rows]
