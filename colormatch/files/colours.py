"""From the cells of a table to XYZ: which columns, which scale, which white."""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.errors import ReferenceFileError
from colormatch.files.deviations import deviations
from colormatch.files.ids import same_id
from colormatch.files.spectra import bands, xyz_from_reflectance
from colormatch.files.tables import Table, numbers, place
from colormatch.files.whites import check_stated_white, check_white
from colormatch.model import FloatArray

ID_COLUMNS = ("SAMPLE_ID", "ID", "PATCH_ID", "PATCH", "SAMPLE", "SAMPLE_NAME", "NAME")
NAME_COLUMNS = ("SAMPLE_NAME", "SAMPLE_LOC", "PATCH_NAME", "NAME")

ALIASES = {
    "L": "LAB_L",
    "A": "LAB_A",
    "B": "LAB_B",
    "C": "LAB_C",
    "H": "LAB_H",
    "CIE_L": "LAB_L",
    "CIE_A": "LAB_A",
    "CIE_B": "LAB_B",
    "X": "XYZ_X",
    "Y": "XYZ_Y",
    "Z": "XYZ_Z",
}
"""Short names, as plain tables have them: common practice, no source."""

AGREE = 1.0
"""ΔE2000 up to which two statements about one patch are taken as one."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Colours:
    """The patches of one table.

    Attributes
    ----------
    ids : tuple of str
        As written.
    xyz : ndarray of shape (N, 3)
        ICC D50, Y of the perfect diffuser 1.
    sigma : ndarray of shape (N,)
        Standard uncertainty, ΔE2000; NaN where none is stated.
    places : tuple of str
        File, line and patch of each row, for messages.
    notes : tuple of str
        How the values were taken.
    """

    ids: tuple[str, ...]
    xyz: FloatArray
    sigma: FloatArray
    places: tuple[str, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class _Source:
    """One way in which a table states colours."""

    title: str
    columns: tuple[int, ...]
    convert: Callable[[Table, FloatArray, Sequence[str]], tuple[FloatArray, tuple[str, ...]]]


def colours(table: Table) -> Colours | None:
    """Read the colours of a table.

    Spectra are preferred to XYZ, because they leave nothing open, and XYZ to Lab,
    which files round more coarsely; what the file states besides is compared.

    Returns
    -------
    Colours or None
        None if no column states a colour.

    Raises
    ------
    ReferenceFileError
        If there is no column of patch names, or a value cannot be taken.
    """
    table = _canonical(table)
    sources = _sources(table)
    if not sources:
        return None
    table, ids, notes = _ids(table)
    best = sources[0]
    if best.title != "spectra":
        check_stated_white(table)
    xyz, more = _values(best, table, ids)
    notes += more
    if best.title in ("XYZ", "xyY"):
        notes += check_white(xyz, table.where)
    for other in sources[1:]:
        notes += _compared(best, other, xyz, table, ids)
    sigma, more = deviations(table, ids)
    notes += more
    return Colours(
        ids=ids,
        xyz=xyz,
        sigma=sigma,
        places=tuple(place(table, i, ids) for i in range(len(ids))),
        notes=notes,
    )


def _canonical(table: Table) -> Table:
    """Give the columns the names of the standard."""
    raw = [column.strip() for column in table.columns]
    names = [re.sub(r"[^A-Z0-9.]+", "_", name.upper()).strip("_") for name in raw]
    if {"x", "y", "Y"} <= set(raw):
        chroma = {"x": "XYY_X", "y": "XYY_Y", "Y": "XYY_CAPY"}
        names = [chroma.get(name, names[i]) for i, name in enumerate(raw)]
    names = [ALIASES[name] if ALIASES.get(name, name) not in names else name for name in names]
    return _replaced(table, columns=tuple(names))


def _replaced(table: Table, **changes: object) -> Table:
    return Table(**{**vars(table), **changes})


def _ids(table: Table) -> tuple[Table, tuple[str, ...], tuple[str, ...]]:
    """Choose the column of patch names."""
    column = next((table.columns.index(name) for name in ID_COLUMNS if name in table.columns), None)
    if column is None:
        raise ReferenceFileError(
            f"{table.where}: no column of patch names: name one SAMPLE_ID (has "
            f"{', '.join(table.columns[:8])[:120]})"
        )
    ids = tuple(row[column].strip() for row in table.rows)
    notes: tuple[str, ...] = ()
    if all(id_.isdecimal() for id_ in ids):
        for name in NAME_COLUMNS:
            named = _named(table, name)
            if named:
                ids, notes = named, (f"{table.columns[column]} only counts: {name} names patches",)
                break
    for i, id_ in enumerate(ids):
        if not same_id(id_):
            raise ReferenceFileError(f"{table.where}: line {table.lines[i]}: the patch has no name")
    return table, ids, notes


def _named(table: Table, name: str) -> tuple[str, ...]:
    """Give a column if it holds real names, each once."""
    if name not in table.columns:
        return ()
    column = table.columns.index(name)
    ids = tuple(row[column].strip() for row in table.rows)
    real = all(id_ and not id_.isdecimal() for id_ in ids)
    return ids if real and len({same_id(id_) for id_ in ids}) == len(ids) else ()


def _sources(table: Table) -> list[_Source]:
    """List the ways in which a table states colours, most trusted first."""
    found: list[_Source] = []
    spectral = bands(table.columns)
    if len(spectral) > 1:
        waves = np.array(list(spectral.values()))
        found.append(_Source("spectra", tuple(spectral), _spectra_at(waves)))
    elif _pairs(table.columns):
        found.append(_Source("spectra", _pairs(table.columns), _spectra_in_pairs))
    for title, columns, convert in (
        ("XYZ", ("XYZ_X", "XYZ_Y", "XYZ_Z"), _from_xyz),
        ("xyY", ("XYY_X", "XYY_Y", "XYY_CAPY"), _from_xyy),
        ("Lab", ("LAB_L", "LAB_A", "LAB_B"), _from_lab),
        ("LCh", ("LAB_L", "LAB_C", "LAB_H"), _from_lch),
    ):
        here = [name for name in columns if name in table.columns]
        if len(here) == len(columns):
            index = tuple(table.columns.index(name) for name in columns)
            found.append(_Source(title, index, convert))
    twice = [name for name, n in Counter(table.columns).items() if n > 1]
    used = {table.columns[i] for source in found for i in source.columns}
    for name in twice:
        if name in used and not name.startswith("SPECTRAL_"):
            raise ReferenceFileError(f"{table.where}: two columns are called {name}: remove one")
    return found


def _values(
    source: _Source, table: Table, ids: Sequence[str]
) -> tuple[FloatArray, tuple[str, ...]]:
    """Read and convert what one source states."""
    values, notes = numbers(table, source.columns, ids)
    xyz, more = source.convert(table, values, ids)
    return xyz, notes + more


def _compared(
    best: _Source, other: _Source, xyz: FloatArray, table: Table, ids: Sequence[str]
) -> tuple[str, ...]:
    """Compare what is used with what the file states besides."""
    try:
        second, _ = _values(other, table, ids)
    except ReferenceFileError as error:
        return (
            f"the {best.title} columns were used; the {other.title} columns are faulty: {error}",
        )
    difference = delta_e_2000(lab_from_xyz(xyz), lab_from_xyz(second))
    worst = int(difference.argmax())
    if difference[worst] <= AGREE:
        return ()
    return (
        f"the {best.title} columns were used; the {other.title} columns differ from them by up to "
        f"{difference[worst]:.1f} ΔE2000 (patch {ids[worst]})",
    )


def _pairs(columns: Sequence[str]) -> tuple[int, ...]:
    """Find columns that come in pairs of wavelength and value: indices, alternating."""
    waves = [i for i, name in enumerate(columns) if name == "SPECTRAL_NM"]
    values = [i for i, name in enumerate(columns) if name in ("SPECTRAL_PCT", "SPECTRAL_DEC")]
    if len(waves) < 2 or len(waves) != len(values):
        return ()
    return tuple(i for pair in zip(waves, values, strict=True) for i in pair)


def _spectra_at(
    wavelengths: FloatArray,
) -> Callable[[Table, FloatArray, Sequence[str]], tuple[FloatArray, tuple[str, ...]]]:
    """Make the conversion for spectra with one column for each wavelength."""

    def convert(
        table: Table, values: FloatArray, ids: Sequence[str]
    ) -> tuple[FloatArray, tuple[str, ...]]:
        values, notes = _unit_reflectance(table, values, ids)
        return xyz_from_reflectance(wavelengths, values, table.where), notes

    return convert


def _spectra_in_pairs(
    table: Table, values: FloatArray, ids: Sequence[str]
) -> tuple[FloatArray, tuple[str, ...]]:
    """Convert spectra in which every row states its wavelengths."""
    waves, reflectance = values[:, 0::2], values[:, 1::2]
    other = (waves != waves[0]).any(axis=1)
    if other.any():
        raise ReferenceFileError(
            f"{place(table, int(other.argmax()), ids)}: its wavelengths are not those of the "
            "first patch: export all spectra with the same bands"
        )
    return _spectra_at(waves[0])(table, reflectance, ids)


def _unit_reflectance(
    table: Table, values: FloatArray, ids: Sequence[str]
) -> tuple[FloatArray, tuple[str, ...]]:
    """Scale reflectance to 1 for the perfect diffuser."""
    top = values.max()
    if 1.5 < top < 3:
        raise ReferenceFileError(
            f"{table.where}: the largest reflectance is {top:g}: cannot tell whether 1 or 100 is "
            "the perfect diffuser"
        )
    scale = 1.0 if top <= 1.5 else 100.0
    _refuse(table, ids, values < -0.02 * scale, "reflectance below 0")
    _refuse(table, ids, values > 1.5 * scale, "reflectance above 150 %")
    note = f"spectra taken as scaled to {scale:g}, integrated for D50 and the 2 degree observer"
    return np.maximum(values / scale, 0), (note,)


def _from_xyz(
    table: Table, values: FloatArray, ids: Sequence[str]
) -> tuple[FloatArray, tuple[str, ...]]:
    """Scale XYZ to Y = 1 for the perfect diffuser."""
    scale, notes = _scale(table, values[:, 1])
    _refuse(table, ids, values < -0.005 * scale, "XYZ below 0")
    _refuse(table, ids, values > 1.5 * scale, f"XYZ beyond a scale of {scale:g}")
    return np.maximum(values / scale, 0), notes


def _from_xyy(
    table: Table, values: FloatArray, ids: Sequence[str]
) -> tuple[FloatArray, tuple[str, ...]]:
    """Convert chromaticity and luminance."""
    x, y, luminance = values.T
    dark = luminance == 0
    wrong = ~dark & ((x < 0) | (y < 0.001) | (x + y > 1.001))
    _refuse(table, ids, wrong, "no possible chromaticity")
    scale, notes = _scale(table, luminance)
    ratio = np.where(dark, 0, luminance / scale / np.where(dark, 1, y))
    xyz = np.stack([x * ratio, y * ratio, (1 - x - y) * ratio], axis=1)
    _refuse(table, ids, (luminance < 0) | (xyz > 3).any(axis=1), "XYZ out of range")
    return np.maximum(xyz, 0), notes


def _scale(table: Table, luminance: FloatArray) -> tuple[float, tuple[str, ...]]:
    """Tell whether the perfect diffuser is 1 or 100."""
    top = luminance.max()
    if top <= 1.3:
        return 1.0, ("XYZ taken as scaled to 1",)
    if 3 <= top <= 150:
        return 100.0, ()
    raise ReferenceFileError(
        f"{table.where}: the largest Y is {top:g}: cannot tell its scale; "
        "export XYZ with 100 for the perfect diffuser"
    )


def _from_lab(
    table: Table, values: FloatArray, ids: Sequence[str]
) -> tuple[FloatArray, tuple[str, ...]]:
    """Convert CIELAB after a look at its range."""
    if values[:, 0].max() <= 1.5 and len(values) > 1:
        raise ReferenceFileError(
            f"{table.where}: the largest L* is {values[:, 0].max():g}: export Lab with L* from "
            "0 to 100"
        )
    lightness, chroma = values[:, 0], np.abs(values[:, 1:])
    wrong = (lightness < -1) | (lightness > 115) | (chroma > 200).any(axis=1)
    _refuse(table, ids, wrong, "Lab out of range")
    return np.maximum(xyz_from_lab(values), 0), ()


def _from_lch(
    table: Table, values: FloatArray, ids: Sequence[str]
) -> tuple[FloatArray, tuple[str, ...]]:
    """Convert lightness, chroma and hue in degrees."""
    _refuse(table, ids, (values[:, 1] < 0) | (np.abs(values[:, 2]) > 400), "LCh out of range")
    hue = np.radians(values[:, 2])
    chroma = values[:, 1:2] * np.stack([np.cos(hue), np.sin(hue)], axis=1)
    return _from_lab(table, np.concatenate([values[:, :1], chroma], axis=1), ids)


def _refuse(table: Table, ids: Sequence[str], wrong: NDArray[np.bool_], what: str) -> None:
    """Refuse the first row in which anything is marked as wrong."""
    rows = wrong.reshape(len(ids), -1).any(axis=1)
    if rows.any():
        raise ReferenceFileError(
            f"{place(table, int(rows.argmax()), ids)}: {what}: correct it or take the patch out"
        )
