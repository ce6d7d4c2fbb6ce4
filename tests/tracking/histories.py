"""Simulated logs whose truth is known, from spectra, through the real fit.

The strip is printed by the demo's inks (Yule-Nielsen halftones of four inks); fading
takes a share of the density of a full layer of one ink (Beer and Lambert), a paper
that turns yellow absorbs below 500 nm, a lamp that ages changes the power of its blue
emitter or of its phosphor. A scanner's sensor integrates that, a tone curve encodes
it, and each scan is fitted as `colormatch check` fits it, against values measured when
the strip was new. Nothing here knows how the log is read.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cache
from itertools import product
from zlib import crc32

import numpy as np

from colormatch.colour.spaces import lab_from_xyz
from colormatch.colour.transfer import encode_srgb
from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.fitting.choosing import choose
from colormatch.fitting.judging import judge
from colormatch.fitting.readings import TileReadings
from colormatch.logbook import LogEntry, PatchEntry
from colormatch.model import FloatArray
from demo import inks, spectra
from tests.files.log_entries import entry

LAYOUT = "strip-long"


@dataclass(frozen=True, kw_only=True)
class State:
    """Strip and scanner on one day; every change is a share of the first day's."""

    keep: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0)
    yellow_paper: float = 0.0
    blue_emitter: float = 1.0
    phosphor: float = 1.0
    exposure: float = 1.0
    gamma: float = 1.0
    reprint: float = 0.0
    """How far the printer moved when another print took the first one's place."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """A strip read on a scanner over some time, with what becomes of it."""

    scanner: str = "A"
    strip: str = "first"
    start: str = "2025-01-06"
    days: int = 16
    months: float = 18.0
    print_drift: float = 1.0
    kind: str = "measured"
    last: State = field(default_factory=State)
    first: State = field(default_factory=State)
    step_at: float | None = None
    """Share of the time after which everything changes at once; None: evenly."""


@cache
def coverage(drift: float) -> FloatArray:
    return inks.driver(shipped_reference(LAYOUT).xyz, drift=drift)


def printed(state: State, drift: float) -> FloatArray:
    """Reflectance (patches, 36) of the strip as it is on that day."""
    layers = np.array(list(product((0.0, 1.0), repeat=4)))
    trapping = 1.0 - 0.07 * np.clip(layers.sum(axis=1, keepdims=True) - 1, 0, None)
    density = layers * trapping @ (np.array(state.keep)[:, None] * inks.ink_densities())
    ageing = 10 ** (-state.yellow_paper * spectra.rise(-spectra.GRID, -450, 70))
    primaries = 0.012 + (inks.paper() * ageing - 0.012) * 10.0**-density
    area = coverage(drift + state.reprint)[..., None, :]
    shares = np.where(layers == 1, area, 1 - area).prod(axis=-1)
    return np.asarray((shares @ primaries**0.5) ** 2.0)


def sensor(state: State) -> FloatArray:
    """Weights (3, 36) to linear RGB; the perfect diffuser reads 1 on the first day."""
    seen = spectra.filters("broad")
    blue = 0.9 * spectra.peak(spectra.FINE, 452, 24)
    phosphor = 0.62 * spectra.peak(spectra.FINE, 545, 110)
    phosphor = phosphor + 0.58 * spectra.peak(spectra.FINE, 612, 110)
    now = spectra.grid_from_fine(seen * (state.blue_emitter * blue + state.phosphor * phosphor))
    new = spectra.grid_from_fine(seen * (blue + phosphor))
    return np.asarray(state.exposure * now / new.sum(axis=1, keepdims=True))


def between(first: State, last: State, share: float) -> State:
    def mixed(a: float, b: float) -> float:
        return a + share * (b - a)

    return State(
        keep=tuple(mixed(a, b) for a, b in zip(first.keep, last.keep, strict=True)),  # type: ignore[arg-type]
        yellow_paper=mixed(first.yellow_paper, last.yellow_paper),
        blue_emitter=mixed(first.blue_emitter, last.blue_emitter),
        phosphor=mixed(first.phosphor, last.phosphor),
        exposure=mixed(first.exposure, last.exposure),
        gamma=mixed(first.gamma, last.gamma),
        reprint=mixed(first.reprint, last.reprint),
    )


def history(*plans: Plan, seed: int = 0) -> list[LogEntry]:
    """Give the rows of a log, in the order of time."""
    rows = [row for plan in plans for row in _rows(plan, seed)]
    return sorted(rows, key=lambda row: row.time)


@cache
def _rows(plan: Plan, seed: int) -> list[LogEntry]:
    # Each plan has chance of its own, so that tests can share what they simulate.
    rng = np.random.default_rng([seed, crc32(repr(plan).encode())])
    new = spectra.xyz_from_spectra(printed(plan.first, plan.print_drift))
    lab = lab_from_xyz(new)
    # What a spectrophotometer measured, and unevenness of the print that stays.
    measured = np.maximum(new * (1 + 0.003 * rng.standard_normal(new.shape)), 1e-4)
    mottle = 1 + 0.003 * rng.standard_normal(len(lab))[:, None]
    shares = np.sort(rng.uniform(0, 1, plan.days))
    shares[[0, -1]] = 0.0, 1.0
    rows = []
    for share in shares:
        passed = share if plan.step_at is None else float(share > plan.step_at)
        state = between(plan.first, plan.last, passed)
        light = printed(state, plan.print_drift) @ sensor(state).T * mottle
        day = date.fromisoformat(plan.start) + timedelta(days=round(share * plan.months * 30.4))
        rows.append(_entry(plan, day, _scan(light, measured, state, rng), measured))
    return rows


def _scan(
    light: FloatArray, measured: FloatArray, state: State, rng: np.random.Generator
) -> TileReadings:
    """Scan with a lamp that is never twice the same to half a percent, and noise."""
    layout = shipped_layouts()[LAYOUT]
    along = np.array([(p.x + p.width / 2) / layout.width * 2 - 1 for p in layout.patches])
    warm = np.exp(0.004 * rng.standard_normal() + 0.002 * rng.standard_normal(3))
    falling = np.exp(-(0.02 + 0.004 * rng.standard_normal()) * along**2)[:, None]
    noise = 1 + 0.002 * rng.standard_normal(light.shape)
    rgb = np.asarray(encode_srgb(np.clip(0.88 * light * warm * falling * noise, 0, 1)))
    return TileReadings(
        name="tile",
        ids=tuple(patch.id for patch in layout.patches),
        rgb=rgb**state.gamma,
        noise=np.full(len(rgb), 0.003),
        xyz=measured,
        neutral=np.array([patch.role != "chromatic" for patch in layout.patches]),
        along=along,
        points=np.zeros((len(rgb), 2)),
        surroundings=None,
    )


def _entry(plan: Plan, day: date, tile: TileReadings, measured: FloatArray) -> LogEntry:
    """Fit one scan and log it as the job does."""
    solution = choose([tile]).solution
    judged = judge([tile], solution)[0]
    parts = (
        lab_from_xyz(measured),
        lab_from_xyz(np.maximum(judged.predicted, 0.0)),
        tile.rgb,
        solution.curve.linear(tile.rgb),
        judged.light * solution.gains[0],
    )
    patches = tuple(
        PatchEntry(
            id=name, wanted=_triple(a), scanned=_triple(b), encoded=_triple(c),
            linear=_triple(d), light=_triple(e),
        )
        for name, a, b, c, d, e in zip(tile.ids, *parts, strict=True)
    )  # fmt: skip
    return entry(
        time=f"{day.isoformat()}T09:00:00Z",
        job=day.isoformat(),
        scanner=plan.scanner,
        strip=plan.strip,
        reference_kind=plan.kind,
        reference_key=plan.strip,
        gains=_triple(solution.gains[0]),
        matrix=tuple(_triple(row) for row in solution.xyz_from_rgb),
        left_out=_spread(judged.left_out),
        fitted=_spread(judged.fitted),
        patches=patches,
    )


def _triple(values: Sequence[float] | FloatArray) -> tuple[float, float, float]:
    a, b, c = (float(value) for value in values)
    return a, b, c


def _spread(values: FloatArray) -> tuple[float, float, float]:
    return float(values.mean()), float(np.percentile(values, 95)), float(values.max())
