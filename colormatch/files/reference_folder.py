"""A folder of reference files, and the designs kept beside them."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from colormatch.errors import InputError, ReferenceFileError
from colormatch.files.layouts import read_layout
from colormatch.files.references import read_reference
from colormatch.model import Layout, Reference

ENDINGS = (".txt", ".csv", ".tsv", ".cgats")
"""Of the files that may hold reference values."""

MAX_FILES = 2000
"""A folder with more is not one of references."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Filed:
    """What a folder holds.

    Attributes
    ----------
    folder : Path
    references : tuple of Reference
        In the order of their files' names.
    layouts : dict
        Designs of the folder's layout files, by name.
    skipped : tuple of str
        Names of files that hold neither.
    """

    folder: Path
    references: tuple[Reference, ...]
    layouts: dict[str, Layout]
    skipped: tuple[str, ...]


def read_folder(folder: Path) -> Filed:
    """Read all reference and layout files of a folder, not of folders in it.

    Raises
    ------
    ReferenceFileError
        If it cannot be read, or no file in it holds reference values.
    """
    try:
        paths = sorted(path for path in folder.iterdir() if path.is_file())
    except OSError as error:
        raise ReferenceFileError(
            f"{folder}: cannot read the folder of references ({error.strerror}): give a folder"
        ) from error
    if len(paths) > MAX_FILES:
        raise ReferenceFileError(
            f"{folder}: holds {len(paths)} files: put the reference files into a folder of "
            "their own"
        )
    layouts: dict[str, Layout] = {}
    references, skipped = [], []
    for path in paths:
        try:
            if path.suffix.lower() == ".toml":
                layout = read_layout(path)
                layouts.setdefault(layout.name, layout)
            elif path.suffix.lower() in ENDINGS:
                references.append(read_reference(path))
        except InputError:
            skipped.append(path.name)
    if not references:
        tried = f" (tried {', '.join(skipped[:4])})" if skipped else ""
        raise ReferenceFileError(
            f"{folder}: no file in it holds reference values{tried}: put the files of measured "
            f"values there, ending in {', '.join(ENDINGS)}"
        )
    return Filed(
        folder=folder, references=tuple(references), layouts=layouts, skipped=tuple(skipped)
    )
