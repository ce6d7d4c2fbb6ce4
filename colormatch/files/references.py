"""Reference files: what the patches of a target measure.

Read are the open text exchange form (ISO 28178, in ASCII CGATS.17) and plain tables
whose first line names the columns. Values may be spectra, XYZ, xyY, Lab or LCh.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from colormatch.colour.spaces import lab_from_xyz
from colormatch.errors import ReferenceFileError
from colormatch.files.cgats import BLOCKS, COUNTS, is_cgats, parse_cgats
from colormatch.files.colours import colours
from colormatch.files.delimited import parse_delimited
from colormatch.files.deviations import DEVIATION
from colormatch.files.ids import same_id
from colormatch.files.repeats import merged_colours
from colormatch.files.tables import Table
from colormatch.files.text import decode, read_bytes
from colormatch.model import Layout, Reference

__all__ = ["match_reference", "parse_reference", "read_reference", "reference_text", "same_id"]

FACTS = {
    "target": "TARGET_TYPE",
    "title": "FILE_DESCRIPTOR",
    "originator": "ORIGINATOR",
    "date": "CREATED",
    "printed": "PROD_DATE",
    "maker": "MANUFACTURER",
    "serial": "SERIAL",
    "material": "MATERIAL",
    "instrument": "INSTRUMENTATION",
    "source": "MEASUREMENT_SOURCE",
    "geometry": "MEASUREMENT_GEOMETRY",
    "condition": "MEASUREMENT_CONDITION",
    "filter": "FILTER",
    "polarisation": "POLARIZATION",
    "backing": "SAMPLE_BACKING",
    "weighting": "WEIGHTING_FUNCTION",
}
"""What a fact is called here, and its header word in ISO 28178."""

OWN_WORDS = ("MEASUREMENT_CONDITION", "VALUE_KIND")
"""Header words that are not the standard's and must be registered."""

OTHER_SPELLINGS = {
    "DESCRIPTOR": "FILE_DESCRIPTOR",
    "MANUFACTURE": "MANUFACTURER",
    "MEASUREMENT_MODE": "MEASUREMENT_CONDITION",
    "MEASUREMENT_DATE": "CREATED",
}

UNSTATED = "not stated"
"""Written where the standard requires a header word and nothing is known."""

NOMINAL = "nominal: the colours asked of the printer, not measured"


def read_reference(path: Path) -> Reference:
    """Read a file of reference values.

    Parameters
    ----------
    path : Path
        In the form of ISO 28178, or a table with named columns.

    Returns
    -------
    Reference
        In file order; ``notes`` say what was odd and how it was taken.

    Raises
    ------
    ReferenceFileError
        Naming the file, and where it can the line and the patch.
    """
    return replace(parse_reference(read_bytes(path), str(path)), path=Path(path))


def parse_reference(data: bytes, where: str) -> Reference:
    """Read reference values from the bytes of their file; ``where`` names it in messages.

    Raises
    ------
    ReferenceFileError
        As `read_reference` does.
    """
    text = decode(data, where)
    if is_cgats(text.lines):
        tables = parse_cgats(text.lines, where)
    else:
        tables = [parse_delimited(text.lines, where)]
    read = [(table, colours(table)) for table in tables]
    found = [some for _, some in read if some is not None]
    if not found:
        names = ", ".join(tables[0].columns[:8])[:120]
        raise ReferenceFileError(
            f"{where}: no complete XYZ, Lab or spectra among the columns (has {names}): "
            "export the colours of the patches too"
        )
    merged = merged_colours(found, where)
    skipped = len(tables) - len(found)
    notes = [*text.notes, *(note for table in tables for note in table.notes), *merged.notes]
    if skipped:
        notes.append(f"{skipped} of {len(tables)} tables state no colours and were left out")
    header = _header(tables)
    return Reference(
        ids=merged.ids,
        xyz=merged.xyz,
        kind=_kind(header),
        sigma=merged.sigma if np.isfinite(merged.sigma).any() else None,
        facts=_facts(header),
        notes=tuple(dict.fromkeys(notes)),
    )


def match_reference(reference: Reference, layout: Layout) -> Reference:
    """Bring reference values into the order of a layout's patches.

    Parameters
    ----------
    reference : Reference
        As read.
    layout : Layout
        The target they are for.

    Returns
    -------
    Reference
        With the layout's ids, one row for each patch; others are left out, noted.

    Raises
    ------
    ReferenceFileError
        If a patch has no value.
    """
    rows = {same_id(id_): i for i, id_ in enumerate(reference.ids)}
    wanted = [patch.id for patch in layout.patches]
    missing = [id_ for id_ in wanted if same_id(id_) not in rows]
    if missing:
        raise ReferenceFileError(_missing(missing, reference, layout))
    index = [rows[same_id(id_)] for id_ in wanted]
    notes = reference.notes
    if len(reference.ids) > len(wanted):
        extra = len(reference.ids) - len(wanted)
        notes += (f"{extra} patches of the reference are not on {layout.name} and were left out",)
    return replace(
        reference,
        ids=tuple(wanted),
        xyz=reference.xyz[index],
        sigma=None if reference.sigma is None else reference.sigma[index],
        notes=notes,
    )


def _missing(missing: list[str], reference: Reference, layout: Layout) -> str:
    """Say which values are missing, and whether it may be another sheet's file."""
    where = str(reference.path or "the reference")
    some = ", ".join(missing[:5]) + (", ..." if len(missing) > 5 else "")
    text = f"{where}: no values for {len(missing)} of {len(layout.patches)} patches ({some})"
    if 2 * len(missing) <= len(layout.patches):
        return f"{text}: measure them too"
    target = reference.facts.get("target", "")
    if target and target != layout.name:
        return f"{text}: it is the reference of {target}, the sheet is {layout.name}"
    return f"{text}: is it the reference of another sheet?"


def reference_text(reference: Reference, layout_name: str) -> str:
    """Write reference values in the open text exchange form.

    Parameters
    ----------
    reference : Reference
        What to write; its facts become header words.
    layout_name : str
        The target the values belong to.

    Returns
    -------
    str
        CGATS.17 with XYZ (100 for the perfect diffuser) and Lab, D50, 2 degree
        observer; the uncertainties, if there are any, as STDEV_DE, in ΔE2000.

    References
    ----------
    ISO 28178; the words registered by KEYWORD are this project's own.
    """
    facts = {"title": f"Reference values of {layout_name}", "originator": "colormatch"}
    facts |= {"date": UNSTATED}
    facts |= reference.facts | {"target": layout_name}
    if reference.kind == "nominal":
        facts |= {"source": NOMINAL}
    words = [line for name, value in facts.items() for line in _header_lines(name, value)]
    words += _header_lines("value_kind", reference.kind)
    rows = np.hstack([100 * reference.xyz, lab_from_xyz(reference.xyz)])
    columns = ["SAMPLE_ID", "XYZ_X", "XYZ_Y", "XYZ_Z", "LAB_L", "LAB_A", "LAB_B"]
    if reference.sigma is not None:
        rows, columns = np.column_stack([rows, reference.sigma]), [*columns, DEVIATION]
    rows = np.round(rows, 6) + 0.0  # adding turns -0 into 0
    sets = [
        "\t".join([_quoted(id_), *(f"{value:.6f}" for value in row)])
        for id_, row in zip(reference.ids, rows, strict=True)
    ]
    lines = [
        "CGATS.17",
        *words,
        f"NUMBER_OF_FIELDS {len(columns)}",
        "BEGIN_DATA_FORMAT",
        "\t".join(columns),
        "END_DATA_FORMAT",
        f"NUMBER_OF_SETS {len(sets)}",
        "BEGIN_DATA",
        *sets,
        "END_DATA",
    ]
    return "\n".join(lines) + "\n"


def _header_lines(name: str, value: str) -> list[str]:
    """Write a fact as a header word, registered first if it is not the standard's."""
    word = FACTS.get(name) or re.sub(r"[^A-Z0-9]+", "_", name.upper()).strip("_") or "FACT"
    if word in (*BLOCKS, *COUNTS, "KEYWORD"):
        word = f"FACT_{word}"
    line = f"{word} {_quoted(value)}"
    known = word in FACTS.values() and word not in OWN_WORDS
    return [line] if known else [f'KEYWORD "{word}"', line]


def _quoted(text: str) -> str:
    """Quote a text, without what would end the quotes, the line or the file."""
    text = "".join(c if c.isprintable() else " " for c in text)
    return '"' + " ".join(text.replace('"', "'").split()) + '"'


def _header(tables: Sequence[Table]) -> dict[str, str]:
    """Collect the header words of all tables; the first to state one wins."""
    header: dict[str, str] = {}
    for table in tables:
        for word, value in table.header.items():
            word = OTHER_SPELLINGS.get(word, word)
            if value not in ("", UNSTATED) and word not in COUNTS:
                header.setdefault(word, value)
    return header


def _facts(header: dict[str, str]) -> dict[str, str]:
    """Give header words the names facts have here."""
    names = {word: name for name, word in FACTS.items()}
    return {
        names.get(word, word.lower()): value
        for word, value in header.items()
        if word != "VALUE_KIND"
    }


def _kind(header: dict[str, str]) -> str:
    """Tell where the file says that its values come from."""
    if _is_nominal(header):
        return "nominal"
    stated = (header.get("VALUE_KIND", ""), header.get("MEASUREMENT_SOURCE", ""))
    if any(value.lower().startswith("carried over") for value in stated):
        return "carried over"
    return "measured"


def _is_nominal(header: dict[str, str]) -> bool:
    """Tell whether the file says that nobody measured its values."""
    stated = (header.get("VALUE_KIND", ""), header.get("MEASUREMENT_SOURCE", ""))
    if any(value.lower().startswith("nominal") for value in stated):
        return True
    return "nominal values" in header.get("FILE_DESCRIPTOR", "").lower()
