"""Which values belong to a strip: by its serial, or by what the user gave."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from colormatch.errors import OtherSerialError, ReferenceFileError
from colormatch.files.reference_folder import Filed
from colormatch.files.references import match_reference
from colormatch.model import Layout, Reference, StripReading
from colormatch.symbols.sheets import is_serial, same_page

KINDS = ("measured", "carried over", "nominal")
"""From the most to the least trusted."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Values:
    """A strip's values, in the order of its patches, and what nobody checked."""

    reference: Reference
    assumed: tuple[str, ...] = ()


def given_values(
    where: str, strip: StripReading, reference: Reference, *, any_sheet: bool
) -> Values:
    """Take the values the user gave, unless they are another sheet's.

    Parameters
    ----------
    where : str
        The scan, for messages.
    strip : StripReading
        As found.
    reference : Reference
        Matched to the strip's layout.
    any_sheet : bool
        Whether the user said that another sheet's values will do.

    Raises
    ------
    OtherSerialError
        If the strip's serial is not among those the values are of.
    """
    serials = own_serials(reference)
    nothing_to_check = strip.layout.symbol is None or reference.path is None
    if nothing_to_check or reference.kind == "nominal":
        return Values(reference=reference)
    if strip.serial and serials and strip.serial not in serials:
        if any_sheet:
            return Values(reference=reference)
        raise OtherSerialError(_other_sheet(where, strip, reference))
    if serials and not strip.serial:
        return Values(reference=reference, assumed=(_unproved(strip, reference),))
    if strip.serial and not serials:
        line = (
            f"{reference.path} states no serial: it is taken to be of the strip's sheet, "
            f"{strip.serial}"
        )
        return Values(reference=reference, assumed=(line,))
    return Values(reference=reference)


def own_serials(reference: Reference) -> tuple[str, ...]:
    """Give the serials of our form: other programs state other numbers in the same place."""
    return tuple(serial for serial in reference.serials if is_serial(serial))


def _other_sheet(where: str, strip: StripReading, reference: Reference) -> str:
    """Say that strip and values do not belong together."""
    near = any(same_page(strip.serial, serial) for serial in own_serials(reference))
    page = " (another strip of the same page)" if near else ""
    return (
        f"{where}: the strip is sheet {strip.serial}, but {reference.path} holds the values of "
        f"sheet {' '.join(own_serials(reference))}{page}: give the file of this sheet, or have it "
        "measured; --any-sheet takes the values all the same"
    )


def _unproved(strip: StripReading, reference: Reference) -> str:
    """Say that no symbol proves which sheet it is."""
    why = {
        "not printed": "bears no symbol with its serial, as sheets printed earlier",
        "unreadable": "has a symbol that cannot be read (dirty, covered or too coarse a scan)",
    }.get(strip.symbol, f"has the symbol of another design ({strip.symbol})")
    return f"the strip {why}: it is taken to be the sheet of {reference.path}" + (
        f", {' '.join(own_serials(reference))}" if own_serials(reference) else ""
    )


def filed_values(where: str, strip: StripReading, filed: Filed) -> Values:
    """Find a strip's values in a folder.

    Raises
    ------
    ReferenceFileError
        If there are none, or more than one file could be meant.
    """
    fitting = _fitting(filed, strip.layout)
    if not strip.serial:
        return _only_one(where, strip, filed, fitting)
    own = _best([one for one in fitting if _is_of(one, strip.serial)])
    if len(own) > 1:
        raise ReferenceFileError(
            f"{where}: {len(own)} files in {filed.folder} hold {own[0].kind} values of sheet "
            f"{strip.serial} ({_names(own)}): keep one there, or give --reference FILE"
        )
    if not own:
        there = ", ".join(f"{_name(one)}{_of(one)}" for one in fitting[:6]) or "none for its design"
        raise OtherSerialError(
            f"{where}: the strip is sheet {strip.serial} of {strip.layout.name}; {filed.folder} "
            f"holds no values of it (there are: {there}): put its file there, or give "
            "--reference FILE"
        )
    return Values(reference=own[0])


def _only_one(
    where: str, strip: StripReading, filed: Filed, fitting: Sequence[Reference]
) -> Values:
    """Take the only values that fit a strip whose serial is not known."""
    best = _best(fitting)
    if len(best) == 1:
        bears = strip.layout.symbol is not None
        return Values(reference=best[0], assumed=(_unproved(strip, best[0]),) if bears else ())
    if not best:
        raise ReferenceFileError(
            f"{where}: no file in {filed.folder} holds values for {strip.layout.name}: put its "
            "file there, or give --reference FILE"
        )
    raise ReferenceFileError(
        f"{where}: the serial of {strip.layout.name} is not known (symbol {strip.symbol}), and "
        f"{len(best)} files in {filed.folder} could be meant ({_names(best)}): give the right "
        "one with --reference FILE"
    )


def _fitting(filed: Filed, layout: Layout) -> list[Reference]:
    """Give the references that name all patches of a layout, in its order."""
    found = []
    for reference in filed.references:
        if reference.facts.get("target", layout.name) != layout.name:
            continue
        try:
            found.append(match_reference(reference, layout))
        except ReferenceFileError:
            continue
    return found


def _is_of(reference: Reference, serial: str) -> bool:
    """Tell whether a file is of a sheet: as it states, or by its name if it states nothing."""
    if own_serials(reference):
        return serial in own_serials(reference)
    name = reference.path.stem.upper() if reference.path else ""
    return re.search(rf"(?<![A-Z0-9]){serial}(?![A-Z0-9])", name) is not None


def _best(references: Sequence[Reference]) -> list[Reference]:
    """Keep the most trusted kind."""
    kinds = [kind for kind in KINDS if any(one.kind == kind for one in references)]
    return [one for one in references if one.kind == kinds[0]] if kinds else []


def _name(reference: Reference) -> str:
    return Path(reference.path or "").name


def _names(references: Sequence[Reference]) -> str:
    return ", ".join(_name(one) for one in references)


def _of(reference: Reference) -> str:
    return f" of {' '.join(own_serials(reference))}" if own_serials(reference) else ""


def least_trusted(references: Sequence[Reference]) -> Reference:
    """Give the reference a report must speak of when strips had several."""
    return max(references, key=lambda one: (KINDS.index(one.kind), one.uncertainty or 0.0))


def folder_layouts(filed: Filed, shipped: Mapping[str, Layout]) -> dict[str, Layout]:
    """Give the designs to look for: ours, and those of the folder that have marks and values.

    A chart without marks is looked for when it is asked for alone.
    """
    known = {one.facts.get("target", "") for one in filed.references}
    own = {name: one for name, one in filed.layouts.items() if name in known and one.marks}
    return own | dict(shipped)


def expected_values(
    filed: Filed, layouts: Mapping[str, Layout], shipped: Mapping[str, Reference]
) -> dict[str, Reference]:
    """Give values by which each design is told from a painting."""
    expected = dict(shipped)
    for name, layout in layouts.items():
        if name not in expected:
            expected[name] = _best(_fitting(filed, layout))[0]
    return expected
