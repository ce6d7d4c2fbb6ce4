"""Places for results: made if missing, never written over unasked."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from colormatch.errors import OutputError


def refuse_existing(paths: list[Path], *, force: bool) -> None:
    """Refuse before any work is done, so that all files are written or none."""
    taken = [path for path in paths if path.exists()]
    if taken and not force:
        raise OutputError(
            f"{taken[0]} exists already: give --force to replace it, or another folder"
        )


def refuse_scans(results: Sequence[Path], scans: Sequence[Path]) -> None:
    """Refuse results that would overwrite a scan, which not even force may do."""
    for result in results:
        if any(result.exists() and scan.exists() and result.samefile(scan) for scan in scans):
            raise OutputError(
                f"{result} is one of the scans: choose another place for the results, scans are "
                "never overwritten"
            )


def make_folder(folder: Path) -> None:
    """Make a folder, or say why it cannot be made."""
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise OutputError(
            f"the folder {folder} cannot be made ({error.strerror}): choose another"
        ) from error
