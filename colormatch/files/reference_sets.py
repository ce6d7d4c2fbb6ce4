"""Several files of values of one sheet made into one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from colormatch.errors import ReferenceFileError
from colormatch.files.colours import Colours
from colormatch.files.references import read_reference
from colormatch.files.repeats import merged_colours
from colormatch.model import Reference


def read_references(paths: Sequence[Path]) -> Reference:
    """Read reference values, averaging those of several files.

    Parameters
    ----------
    paths : sequence of Path
        At least one; of several, each holds readings of the same sheet.

    Returns
    -------
    Reference
        ``notes`` say how well the readings agree and what was left out.

    Raises
    ------
    ReferenceFileError
        If a file cannot be read, or the files are not of one sheet.
    """
    read = [read_reference(path) for path in paths]
    first = read[0]
    if len(read) == 1:
        return first
    for other in read[1:]:
        _require_one_sheet(first, other)
    merged = merged_colours([_as_colours(one) for one in read], str(first.path))
    facts = {
        name: "; ".join(dict.fromkeys(one.facts[name] for one in read if name in one.facts))
        for one in read
        for name in one.facts
    }
    serials = dict.fromkeys(serial for one in read for serial in one.serials)
    return replace(
        first,
        ids=merged.ids,
        xyz=merged.xyz,
        sigma=merged.sigma if np.isfinite(merged.sigma).all() else None,
        facts=facts | ({"serial": " ".join(serials)} if serials else {}),
        notes=tuple(dict.fromkeys(merged.notes)),
    )


def _require_one_sheet(first: Reference, other: Reference) -> None:
    if first.kind != other.kind:
        raise ReferenceFileError(
            f"{other.path}: its values are {other.kind}, those of {first.path} {first.kind}: "
            "only values got in the same way can be averaged"
        )
    if first.serials and other.serials and not set(first.serials) & set(other.serials):
        raise ReferenceFileError(
            f"{other.path}: holds the values of sheet {' '.join(other.serials)}, {first.path} "
            f"those of {' '.join(first.serials)}: only values of one sheet can be averaged"
        )


def _as_colours(reference: Reference) -> Colours:
    unknown = np.full(len(reference.ids), np.nan)
    return Colours(
        ids=reference.ids,
        xyz=reference.xyz,
        sigma=unknown if reference.sigma is None else reference.sigma,
        places=tuple(f"{reference.path}: patch {id_}" for id_ in reference.ids),
        notes=reference.notes,
    )
