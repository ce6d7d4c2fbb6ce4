"""Transfer: values of a strip from a known sheet beside it in the same scans."""

from __future__ import annotations

import datetime
from collections.abc import Sequence
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from colormatch.errors import FitError, OutputError, ScanError, TargetError
from colormatch.files.references import reference_text
from colormatch.files.repeats import repeated
from colormatch.files.whole import written_whole
from colormatch.fitting.applying import FARTHEST_ALONG
from colormatch.fitting.carrying import OTHER_INK, Carried, carry_over
from colormatch.job.fit import FittedTile, fit_tiles
from colormatch.job.folders import make_folder, refuse_existing, refuse_scans
from colormatch.job.options import TransferOptions
from colormatch.job.report import spread
from colormatch.job.sheets import own_serials
from colormatch.job.tiles import look_at, with_readings
from colormatch.job.transfer_sheets import Known, find_pair, load_known
from colormatch.job.transfer_strips import Pair
from colormatch.model import FloatArray, Progress, Reference, StripReading, silent
from colormatch.verdict import TransferReport

POOR_FIT = 3.0
"""Mean left-out ΔE2000 of the known sheet above which it is doubtful."""


UNEVEN = 0.2
"""ΔE2000 by which the light differs between the places of the two sheets, for each scan:
one percent of light, what good flatbeds leave (common practice, no source)."""

SURROUND = 0.3
"""ΔE2000 by which patches of unlike designs differ, because unlike surroundings scatter
light onto them: lightness was off by 0.1 to 0.3 on the spectral model of the demo."""


def transfer(
    paths: Sequence[Path], options: TransferOptions, *, progress: Progress = silent
) -> TransferReport:
    """Write values for a strip that lies beside a known sheet.

    Parameters
    ----------
    paths : sequence of Path
        Scans that show both; best with the sheets moved in between.
    options : TransferOptions
        The known sheet, and where to write.
    progress : callable, optional
        Told the task and the share done.

    Raises
    ------
    InputError
        If a scan does not show both sheets, or the known values do not fit.
    OutputError
        If the file exists already or cannot be written.
    """
    refuse_scans([options.out], paths)
    _refuse_known(options)
    _refuse_copies(paths)
    refuse_existing([options.out], force=options.force)
    known = load_known(options)
    with ExitStack() as stack:
        tiles, pairs = [], []
        for number, path in enumerate(paths):
            progress("reading", number / len(paths))
            opened = look_at(path, silent)
            stack.callback(opened.scan.close)
            pair = find_pair(opened, known, options.known_at)
            pairs.append(pair)
            tiles.append(with_readings(opened, (pair.known,), known.target))
        _require_one_strip(paths, pairs)
        progress("fitting", 1.0)
        fitted = fit_tiles(tiles)
        carried = [
            carried_over(one, pair.other, same_ink=not options.other_ink)
            for one, pair in zip(fitted, pairs, strict=True)
        ]
    return _written(known, fitted, pairs, carried, options)


def _refuse_known(options: TransferOptions) -> None:
    """Refuse to write over what is known, which not even force may do."""
    out = options.out
    if out.exists() and any(path.exists() and out.samefile(path) for path in options.known):
        raise OutputError(
            f"{out} holds the known values: choose another file, they are never overwritten"
        )


def _refuse_copies(paths: Sequence[Path]) -> None:
    """Refuse a scan given twice: it would count as proof of how well scans repeat."""
    for number, path in enumerate(paths):
        if any(path.exists() and one.exists() and path.samefile(one) for one in paths[:number]):
            raise ScanError(f"{path}: is given twice: give each scan once")


def _require_one_strip(paths: Sequence[Path], pairs: Sequence[Pair]) -> None:
    """Refuse scans that do not show the same strip."""
    first = pairs[0].other
    for path, pair in zip(paths, pairs, strict=True):
        other = pair.other
        serials = {strip.serial for strip in (first, other) if strip.serial}
        if other.layout.name != first.layout.name or len(serials) > 1:
            raise TargetError(
                f"{path}: shows {other.layout.name} {other.serial}, {paths[0]} shows "
                f"{first.layout.name} {first.serial}: give scans of one strip at a time"
            )


def carried_over(fitted: FittedTile, other: StripReading, *, same_ink: bool) -> Carried:
    """Carry the known sheet's values over to the other strip of one scan."""
    readings = fitted.tile.readings
    return carry_over(
        _light(fitted, other.rgb, other.centres),
        _light(fitted, readings.rgb, readings.points),
        readings.xyz,
        fitted.choice.solution.xyz_from_rgb,
        fitted.judgement.left_out,
        same_ink=same_ink,
    )


def _light(fitted: FittedTile, rgb: FloatArray, points: FloatArray) -> FloatArray:
    """Give the linear light of patches, scattered light and fall-off removed, (N, 3)."""
    solution, around = fitted.choice.solution, fitted.tile.surroundings
    maps = around.maps(solution.curve.linear)
    along = points @ fitted.tile.along_from_px[:2] + fitted.tile.along_from_px[2]
    lamp = solution.lamp(fitted.index, np.clip(along, -FARTHEST_ALONG, FARTHEST_ALONG))
    light: FloatArray = solution.light(fitted.index, rgb, around.at(maps, points)) / lamp[:, None]
    return light


@dataclass(frozen=True, kw_only=True, eq=False)
class _Averaged:
    """The scans' answers made into one; per patch in the layout's order."""

    xyz: FloatArray
    sigma: FloatArray
    between: float | None
    outliers: tuple[str, ...]


def _averaged(pairs: Sequence[Pair], carried: Sequence[Carried], known: Reference) -> _Averaged:
    """Average over the scans, patches that one could not read left out of it."""
    layout = pairs[0].other.layout
    usable = np.array([pair.other.usable for pair in pairs])
    lost = [patch.id for patch, seen in zip(layout.patches, usable.T, strict=True) if not any(seen)]
    if lost:
        raise TargetError(
            f"{layout.name}: {len(lost)} of {len(layout.patches)} patches cannot be read in any "
            f"scan ({', '.join(lost[:6])}): wipe strip and glass, check that nothing is clipped, "
            "and scan again"
        )
    xyz, sigma = np.array([one.xyz for one in carried]), np.array([one.sigma for one in carried])
    patches = [repeated(xyz[usable[:, p], p]) for p in range(len(layout.patches))]
    fit = np.array([sigma[usable[:, p], p].mean() for p in range(len(layout.patches))])
    error = np.array([one.error for one in patches])
    outliers = tuple(
        f"{patch.id} in {int((~one.kept).sum())} of {len(one.kept)} scans"
        for patch, one in zip(layout.patches, patches, strict=True)
        if not one.kept.all()
    )
    spreads = [one.spread for one in patches if one.kept.sum() > 1]
    return _Averaged(
        xyz=np.array([one.xyz for one in patches]),
        sigma=np.sqrt(fit**2 + error**2 + _systematic(pairs, known) ** 2),
        between=float(np.mean(spreads)) if spreads else None,
        outliers=outliers,
    )


def _systematic(pairs: Sequence[Pair], known: Reference) -> float:
    """Give what all patches share, ΔE2000: the light between two places, and the known values."""
    light = UNEVEN / np.sqrt(len(pairs))
    surround = 0.0 if pairs[0].known.layout.name == pairs[0].other.layout.name else SURROUND
    return float(np.sqrt(light**2 + surround**2 + (known.uncertainty or 0.0) ** 2))


def _written(
    known: Known,
    fitted: Sequence[FittedTile],
    pairs: Sequence[Pair],
    carried: Sequence[Carried],
    options: TransferOptions,
) -> TransferReport:
    """Write the file and say what is in it."""
    matrix_alone = float(np.mean([one.judgement.left_out.mean() for one in fitted]))
    if matrix_alone > POOR_FIT:
        raise FitError(
            f"{known.reference.path}: its values fit the scans only to {matrix_alone:.1f} ΔE2000: "
            "check that they belong to the sheet that was scanned, and that automatic "
            "corrections are off"
        )
    averaged = _averaged(pairs, carried, known.reference)
    layout = pairs[0].other.layout
    serial = next((pair.other.serial for pair in pairs if pair.other.serial), "")
    report = TransferReport(
        written=str(options.out),
        sheet=f"{layout.name}, sheet {serial}" if serial else layout.name,
        source=_source(known.reference),
        scans=len(pairs),
        patches=len(layout.patches),
        uncertainty=spread(averaged.sigma),
        least_certain=layout.patches[int(averaged.sigma.argmax())].id,
        other_ink=OTHER_INK * matrix_alone,
        between_scans=averaged.between,
        outliers=averaged.outliers,
        assumed=_assumed(known.reference, pairs, serial, options),
    )
    reference = Reference(
        ids=tuple(patch.id for patch in layout.patches),
        xyz=np.maximum(averaged.xyz, 0.0),
        kind="carried over",
        sigma=averaged.sigma,
        facts=_facts(known.reference, report, serial, options),
    )
    make_folder(options.out.parent)
    with written_whole(options.out, force=options.force) as part:
        part.write_text(reference_text(reference, layout.name), encoding="utf-8")
    return report


def _source(known: Reference) -> str:
    """Say where the values came from."""
    serials = own_serials(known)
    sheet = f" of sheet {' '.join(serials)}" if serials else ""
    name = known.path.name if known.path else "the known sheet"
    return f"{name} ({known.kind}{sheet})"


def _facts(
    known: Reference, report: TransferReport, serial: str, options: TransferOptions
) -> dict[str, str]:
    """Give what the header of the file says."""
    kept: dict[str, str] = {
        k: known.facts[k] for k in ("condition", "backing", "filter") if k in known.facts
    }
    ink = "another kind of ink than" if options.other_ink else "ink of the same kind as"
    return {
        "date": f"{datetime.datetime.now(tz=datetime.UTC):%Y-%m-%d}",
        "source": f"carried over from {report.source} by {report.scans} scans of both sheets",
        "uncertainty": f"{report.uncertainty.mean:.2f} CIEDE2000 mean, for {ink} the known sheet's",
        **({"serial": serial} if serial else {}),
        **kept,
    }


def _assumed(
    known: Reference, pairs: Sequence[Pair], serial: str, options: TransferOptions
) -> tuple[str, ...]:
    """List what the values rest on."""
    lines = [*known.notes, *(line for pair in pairs for line in pair.assumed)]
    if not options.other_ink:
        lines.append(
            "both sheets are taken to be printed with ink of the same kind: with other ink the "
            "same colour can read differently in a scanner (give --other-ink then)"
        )
    if known.sigma is None:
        lines.append("the uncertainty of the known values themselves is not stated and not added")
    if not serial:
        lines.append("the strip's symbol was not read: the file states no serial")
    if len(pairs) == 1:
        lines.append(
            "one scan only: how well it repeats is not known; scan two or three times, the sheets "
            "moved in between, and give all scans"
        )
    return tuple(dict.fromkeys(lines))
