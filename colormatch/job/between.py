"""Findings that need several scans: what one differs in from the others."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from colormatch.job.fit import FittedTile
from colormatch.job.lying import Found, findings_of_lying
from colormatch.levelling.exposure import light_steps, strip_light
from colormatch.model import FloatArray, Scan
from colormatch.verdict import Advice, Finding, Kind

STEP_SAID, STEP_CARE = 3.0, 12.0
"""Percent of light by which a scan may differ from the others: lamps repeat to 0.3 %; an
eighth is a sixth of a stop, the finest step drivers offer."""
APART_SAID = 8.0
"""Likewise between tiles whose tone curves were fitted apart: less exact."""
DARKEST_GREY = 0.15
"""Reflectance of the greys from which the light is taken: scattered light adds little."""
COLD_SAID, COLD_CARE = 1.0, 2.0
"""Percent of light missing in the first scan: about 1 is usual."""
SAME_PPI = 0.02
"""Share by which resolutions count as the same setting."""


def findings_between(
    fitted: Sequence[FittedTile], scans: Sequence[Scan], lying: Found | None = None
) -> dict[str, tuple[Finding, ...]]:
    """Compare scans with each other.

    Parameters
    ----------
    fitted : sequence of FittedTile
        Those with a strip, in the order they were given, taken for the order
        they were made in.
    scans : sequence of Scan
        All that could be read, in that order.
    lying : iterator, optional
        What is known already of how they lie; else it is looked for.

    Returns
    -------
    dict
        By the scan's path, what was found in it.
    """
    found: dict[str, list[Finding]] = {}
    lying = findings_of_lying(fitted) if lying is None else lying
    looks = (_light(fitted), _light_of_groups(fitted), _files(scans), lying)
    for look in looks:
        for name, finding in look:
            found.setdefault(name, []).append(finding)
    return {name: tuple(some) for name, some in found.items()}


def _light(fitted: Sequence[FittedTile]) -> Found:
    """Exposure and warming up, among the tiles of one tone curve."""
    for group in dict.fromkeys(f.group for f in fitted):
        tiles = [f for f in fitted if f.group == group]
        if len(tiles) < 2:
            continue
        steps = light_steps(np.array([f.choice.solution.gains[f.index] for f in tiles]))
        for tile, change, cold in zip(tiles, steps.change, steps.warming, strict=True):
            name = tile.tile.readings.name
            if steps.warming.any():
                if abs(cold) * 100 >= COLD_SAID:
                    yield name, _warm_up(float(cold) * 100, Path(tiles[-1].tile.readings.name).name)
            elif abs(change) * 100 >= STEP_SAID:
                yield name, _exposure(float(change) * 100, _whom(tiles))


def _light_of_groups(fitted: Sequence[FittedTile]) -> Found:
    """Exposure of tiles whose tone curve was fitted apart from most."""
    groups = sorted(dict.fromkeys(f.group for f in fitted), key=len, reverse=True)
    if len(groups) < 2:
        return
    usual = np.median([_strip_light(f) for f in fitted if f.group == groups[0]], axis=0)
    first = next(f for f in fitted if f.group == groups[0])
    for tile in fitted:
        if tile.group != groups[0]:
            steps = light_steps(np.array([usual, _strip_light(tile)]))
            percent = float(steps.change[1]) * 100
            if abs(percent) >= APART_SAID:
                whom = Path(first.tile.readings.name).name if len(fitted) == 2 else "most scans"
                yield tile.tile.readings.name, _exposure(percent, whom)


def _strip_light(fitted: FittedTile) -> FloatArray:
    readings = fitted.tile.readings
    light = fitted.choice.solution.curve.linear(readings.rgb)
    grey = readings.neutral & (readings.xyz[:, 1] > DARKEST_GREY)
    return strip_light(light[grey], readings.xyz[grey, 1])


def _whom(tiles: Sequence[FittedTile]) -> str:
    """With what a scan's light was compared."""
    if len(tiles) == 2:
        return Path(tiles[0].tile.readings.name).name
    return "the other scans"


def _warm_up(percent: float, last: str) -> Finding:
    word = "darker" if percent < 0 else "lighter"
    return Finding(
        kind=Kind.WARM_UP,
        advice=Advice.CARE if abs(percent) >= COLD_CARE else Advice.USE,
        text=f"this scan is {abs(percent):.1f} % {word} than the last one ({last}), and the scans "
        "between come ever nearer to it: the lamp was still warming up (if the scans were given in "
        "the order they were made)",
        next_step="let the scanner make two or three scans that you throw away, then scan this "
        "part again",
        measure=abs(percent),
        unit="%",
        limit=COLD_SAID,
    )


def _exposure(percent: float, whom: str) -> Finding:
    word = "darker" if percent < 0 else "lighter"
    return Finding(
        kind=Kind.OTHER_EXPOSURE,
        advice=Advice.CARE if abs(percent) >= STEP_CARE else Advice.USE,
        text=f"this scan is up to {abs(percent):.0f} % {word} than {whom}, more than a lamp "
        "changes by itself: its exposure was another. The strip brings the tiles together "
        "again, but a darker scan is noisier in the dark colours",
        next_step="turn automatic exposure off and scan all parts with the same settings",
        measure=abs(percent),
        unit="%",
        limit=STEP_SAID,
    )


def _files(scans: Sequence[Scan]) -> Found:
    """Files that were saved otherwise than most."""
    if len(scans) < 2:
        return
    form = Counter(scan.format for scan in scans).most_common(1)[0][0]
    bits = Counter(scan.bits for scan in scans).most_common(1)[0][0]
    for scan in scans:
        said = []
        if scan.format != form:
            said.append(f"a {scan.format.upper()} file where the others are {form.upper()}")
        if scan.bits != bits:
            said.append(f"{scan.bits} bits per channel where the others have {bits}")
        ppi = _usual_ppi(scans)
        other_ppi = scan.ppi is not None and ppi is not None and not _same(scan.ppi, ppi)
        if other_ppi and scan.ppi is not None and ppi is not None:
            said.append(f"{scan.ppi[0]:.0f} ppi where the others have {ppi[0]:.0f}")
        if said:
            yield str(scan.path), _saved_otherwise(" and ".join(said), other_ppi)


def _usual_ppi(scans: Sequence[Scan]) -> tuple[float, float] | None:
    stated = [scan.ppi for scan in scans if scan.ppi is not None]
    if not stated:
        return None
    return max(stated, key=lambda ppi: sum(_same(ppi, other) for other in stated))


def _same(one: tuple[float, float], other: tuple[float, float]) -> bool:
    return all(abs(a / b - 1) <= SAME_PPI for a, b in zip(one, other, strict=True))


def _saved_otherwise(said: str, other_ppi: bool) -> Finding:
    return Finding(
        kind=Kind.OTHER_SETTINGS,
        advice=Advice.CARE if other_ppi else Advice.USE,
        text=f"this scan is {said}: settings were changed between the scans"
        if said.startswith("a ")
        else f"this scan has {said}: settings were changed between the scans",
        next_step="scan all parts with the same resolution, bits and file format; a part with a "
        "lower resolution stays less sharp in the joined picture",
    )
