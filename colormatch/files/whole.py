"""Files that are written whole or not at all."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from colormatch.errors import OutputError


@contextmanager
def written_whole(path: str | os.PathLike[str], *, force: bool = False) -> Iterator[Path]:
    """Lend a temporary path beside ``path``; move it there when the block ends well.

    Whatever ends the block early, an interrupt from the keyboard included, the
    temporary file is removed and nothing appears, or changes, at ``path``.

    Parameters
    ----------
    path : path-like
        Where the finished file belongs. Its folder must exist.
    force : bool, optional
        Replace a file that is already there.

    Yields
    ------
    Path
        An empty file in the same folder with the same suffix, to be written.

    Raises
    ------
    OutputError
        If something is at ``path`` already and ``force`` is not given, if the
        folder is missing or closed to writing, or if the disk refuses the data.
    """
    target = Path(path)
    _refuse_to_overwrite(target, force)
    temporary = _new_file_beside(target)
    try:
        yield temporary
        _settle(temporary)
        _refuse_to_overwrite(target, force)
        temporary.replace(target)
    except OSError as error:
        raise OutputError(_sentence(target, error)) from error
    finally:
        with suppress(OSError):
            temporary.unlink()
    _settle_folder(target.parent)


def _refuse_to_overwrite(target: Path, force: bool) -> None:
    if target.is_dir():
        raise OutputError(f"{target} is a folder: give the name of a file to write")
    if not force and os.path.lexists(target):
        raise OutputError(
            f"{target} exists already and is left as it is: "
            "choose another name, or say --force to replace it"
        )


def _new_file_beside(target: Path) -> Path:
    """Create an empty file next to ``target``, with the usual permissions."""
    # The name is short whatever the target's is, so that it is never too long.
    temporary = target.parent / f".part-{secrets.token_hex(4)}{target.suffix[:16]}"
    try:
        os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o666))
    except OSError as error:
        raise OutputError(_sentence(target, error)) from error
    return temporary


def _settle(path: Path) -> None:
    """Make sure the data is on the disk before the name points to it."""
    descriptor = os.open(path, os.O_RDWR)
    try:
        os.fsync(descriptor)
    finally:
        os.close(descriptor)


def _settle_folder(folder: Path) -> None:
    # Not every system lets a folder be opened; the file itself is safe by now.
    with suppress(OSError):
        descriptor = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(descriptor)
        finally:
            os.close(descriptor)


def _sentence(target: Path, error: OSError) -> str:
    if isinstance(error, FileNotFoundError):
        return f"cannot write {target}: there is no folder {target.parent}; make it first"
    if isinstance(error, NotADirectoryError):
        return f"cannot write {target}: {target.parent} is not a folder; choose another place"
    if isinstance(error, PermissionError):
        return f"cannot write {target}: the folder {target.parent} may not be written to"
    reason = (error.strerror or str(error)).lower()
    return f"cannot write {target}: {reason}; free some space or choose another folder"
