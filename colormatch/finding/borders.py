"""Borders between the patches of a chart: where they are designed, and where a scan has them.

Two patches side by side are a border of one kind whether they touch or a gap lies between:
the colour of one, the gap's, the colour of the other. Their place comes from a fit of all
three to the median profile across it, so that neither dust nor a gap narrower than the
blur moves it. A side without a neighbour is a border with the sheet's own ground.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.finding.border_design import OPEN, Borders
from colormatch.finding.poses import applied
from colormatch.finding.reading import Region
from colormatch.model import FloatArray

LINES = 15
"""Profiles across a border, of which the median is taken."""

SAMPLES = 41
"""Of a profile."""

BLURS = (0.5, 0.8, 1.2, 1.7, 2.4)
"""Standard deviations of the scan's blur, pixels, that are tried. In a gap as narrow as
the blur it decides which colour the gap is taken to have."""

UNTOLD = 0.02
"""Light of a line one pixel wide, along a border, that the fit does not know of; it looks
like a shift of the border, the larger the less the colours at its sides differ."""

DARKEST, LIGHTEST = 0.004, 0.99
"""Encoded values beyond which a channel is clipped."""

CLIPPED_PX, CLIPPED_MM = 0.4, 0.08
"""By which, whichever is less, a border beside a clipped colour seems moved."""

TRIALS = 11
"""Places at which a border's fit is begun."""

ROUNDS = 4
"""Of its improvement."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Shifts:
    """Where borders lie in a scan, against where a pose puts them.

    Attributes
    ----------
    away : ndarray of shape (S,)
        Along each normal, mm.
    sigma : ndarray of shape (S,)
        Standard deviation of that, mm; infinite where no border is seen.
    hairline : ndarray of shape (S, 2)
        Shift, mm, that an undesigned line one pixel wide between touching patches makes
        seem: for a line of the light 1, and for one that takes away the patches' own.
    cost : float
        Squared residual of the borders seen.
    """

    away: FloatArray
    sigma: FloatArray
    hairline: FloatArray
    cost: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Profiles:
    """What a scan shows across each border.

    Attributes
    ----------
    values : ndarray of shape (S, SAMPLES, 3)
        Medians along each border, roughly linear light.
    across : ndarray of shape (S, SAMPLES)
        Places along the normals, mm.
    seen, clipped : ndarray of bool, shape (S,)
        Whether all of it lies in the scan; whether a channel is clipped somewhere.
    per_mm : float
        Scan pixels.
    """

    values: FloatArray
    across: FloatArray
    seen: NDArray[np.bool_]
    clipped: NDArray[np.bool_]
    per_mm: float


def read_profiles(
    region: Region, px_from_mm: FloatArray, borders: Borders, reach: float, exponent: float
) -> Profiles:
    """Read a scan across all borders.

    Parameters
    ----------
    region : Region
        Where the pixels are.
    px_from_mm : ndarray of shape (2, 3)
        Pose, off by less than ``reach``.
    borders : Borders
        The design's.
    reach : float
        How far beyond each side of a gap a profile goes, mm, where there is room.
    exponent : float
        Roughly the tone curve: a blur keeps edges in place in linear light only.
    """
    half = np.minimum(borders.widths / 2 + reach, borders.rooms)
    across = half[:, None] * np.linspace(-1, 1, SAMPLES)
    encoded = _profiles(region, px_from_mm, borders, across)
    return Profiles(
        values=np.nan_to_num(encoded) ** exponent,
        across=across,
        seen=np.asarray(np.isfinite(encoded).all(axis=(1, 2))),
        clipped=np.asarray(((encoded > LIGHTEST) | (encoded < DARKEST)).any(axis=(1, 2))),
        per_mm=float(np.sqrt(abs(np.linalg.det(px_from_mm[:, :2])))),
    )


def border_shifts(profiles: Profiles, borders: Borders, blur: float) -> Shifts:
    """Measure where all borders lie.

    Parameters
    ----------
    profiles : Profiles
        As read.
    borders : Borders
        The design's.
    blur : float
        Standard deviation of the scan's blur, pixels.
    """
    per_mm, half = profiles.per_mm, profiles.across[:, -1]
    spacing = 2 * half / (SAMPLES - 1)
    soft = np.hypot(blur / per_mm, spacing / 2)
    reach = half - borders.widths / 2
    away, fit = _fitted(profiles.values, profiles.across, borders.gaps, soft, reach)
    # Of a step between two levels the curvature tells their distance.
    contrast = np.sqrt(fit.bend * 2 * np.sqrt(np.pi) * soft * spacing)
    sigma = np.hypot(fit.sigma, UNTOLD / per_mm / np.maximum(contrast, 1e-6))
    moved = min(CLIPPED_PX / per_mm, CLIPPED_MM)
    sigma = np.hypot(sigma, np.where(profiles.clipped, moved, 0.0))
    # Beside a border without room nothing can be told.
    seen = profiles.seen & (reach > 1.5 * soft)
    hairline = np.where((borders.gaps == 0)[:, None], _hairline(fit.levels) / per_mm, 0.0)
    return Shifts(
        away=away,
        sigma=np.where(seen, sigma, np.inf),
        hairline=hairline,
        cost=float(fit.cost[seen & ~profiles.clipped].sum()),
    )


def likely_blur(profiles: Profiles, borders: Borders) -> float:
    """Give the blur, of `BLURS`, that explains all borders best."""
    costs = [border_shifts(profiles, borders, blur).cost for blur in BLURS]
    return BLURS[int(np.argmin(costs))]


def _hairline(levels: FloatArray) -> FloatArray:
    """Shift, pixels, of a border (S, 2) by a line on it; ``levels`` (S, 3, 3) from one side on."""
    step, middle = levels[:, 2] - levels[:, 0], (levels[:, 2] + levels[:, 0]) / 2
    size = np.maximum((step**2).sum(axis=1), 1e-4)
    return np.stack([-step.sum(axis=1) / size, (step * middle).sum(axis=1) / size], axis=1)


def _profiles(
    region: Region, px_from_mm: FloatArray, borders: Borders, across: FloatArray
) -> FloatArray:
    """Read the median profile across each border, (S, SAMPLES, 3); NaN outside the scan."""
    import cv2

    lines = borders.lengths[:, None] * np.linspace(-0.5, 0.5, LINES)
    tangents = borders.normals[:, ::-1]
    mm = (
        borders.middles[:, None, None]
        + lines[:, :, None, None] * tangents[:, None, None]
        + across[:, None, :, None] * borders.normals[:, None, None]
    )
    px = applied(px_from_mm, mm)
    pixels, top, left = region.cut(px.min(axis=(0, 1, 2)) - 2, px.max(axis=(0, 1, 2)) + 2)
    if min(pixels.shape[:2]) < 2:
        return np.full((*across.shape, 3), np.nan)
    x, y = ((px[..., i] - origin).astype(np.float32) for i, origin in ((0, left), (1, top)))
    shape = x.shape
    x, y = (np.ascontiguousarray(part.reshape(shape[0], -1)) for part in (x, y))
    read = cv2.remap(pixels, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    values = np.asarray(read, np.float32).reshape(*shape, 3) / np.iinfo(pixels.dtype).max
    size = np.array(region.size) - 0.5
    inside = ((px > -0.5) & (px < size)).all(axis=(1, 2, 3))
    profiles: FloatArray = np.median(values, axis=1).astype(np.float64)
    profiles[~inside] = np.nan
    return profiles


@dataclass(frozen=True, kw_only=True, eq=False)
class _Fit:
    """Colours fitted for given places of borders.

    ``cost`` (S,) is the squared residual; ``step`` (S,) the place's change that lowers it
    most (Gauss and Newton, colours following); ``bend`` (S,) half the cost's curvature,
    per mm squared; ``levels`` (S, 3, 3) the colour at one side, in the gap, at the other.
    """

    cost: FloatArray
    step: FloatArray
    bend: FloatArray
    levels: FloatArray

    @property
    def sigma(self) -> FloatArray:
        """Standard deviation of the places, mm, from what is left over."""
        free = 3 * (SAMPLES - 3) - 1
        noise = np.maximum(np.sqrt(self.cost / free), 1e-3)
        return noise / np.sqrt(np.maximum(self.bend, 1e-12))


def _fitted(
    profiles: FloatArray, across: FloatArray, gaps: FloatArray, soft: FloatArray, reach: FloatArray
) -> tuple[FloatArray, _Fit]:
    """Fit place, mm, and colours of each border."""

    def at(place: FloatArray) -> _Fit:
        return _fit_at(profiles, across, gaps, soft, place)

    trials = np.linspace(-0.85, 0.85, TRIALS)
    left = np.stack([at(trial * reach).cost for trial in trials])
    place = trials[left.argmin(axis=0)] * reach
    for _ in range(ROUNDS):
        fit = at(place)
        step = np.clip(fit.step, -2 * soft, 2 * soft)
        moved = np.clip(place + step, -reach, reach)
        place = np.where(at(moved).cost <= fit.cost, moved, place + 0.3 * step)
    return place, at(place)


def _fit_at(
    profiles: FloatArray, across: FloatArray, gaps: FloatArray, soft: FloatArray, place: FloatArray
) -> _Fit:
    """Fit the colours for given places."""
    from scipy.special import ndtr

    half = np.where(gaps >= OPEN, 0.0, gaps / 2)
    one = (half == 0)[:, None]
    first = (across - (place - half)[:, None]) / soft[:, None]
    second = (across - (place + half)[:, None]) / soft[:, None]
    up, down = ndtr(first), ndtr(second)
    # No gap, no colour of its own.
    basis = np.stack([1 - up, np.where(one, 0.0, up - down), down], axis=-1)
    turned = np.swapaxes(basis, 1, 2)
    inverse = np.linalg.inv(turned @ basis + 1e-6 * np.eye(3))
    levels = inverse @ (turned @ profiles)
    residual = profiles - basis @ levels
    slope = np.stack([_bell(first), _bell(second)], axis=-1) / soft[:, None, None]
    into = np.where(one, 0.0, levels[:, 1] - levels[:, 0])
    out_of = levels[:, 2] - np.where(one, levels[:, 0], levels[:, 1])
    moved = -(slope[..., :1] * into[:, None] + slope[..., 1:] * out_of[:, None])
    free = moved - basis @ (inverse @ (turned @ moved))
    bend = np.einsum("stc,stc->s", free, free)
    return _Fit(
        cost=np.einsum("stc,stc->s", residual, residual),
        step=np.einsum("stc,stc->s", free, residual) / np.maximum(bend, 1e-12),
        bend=bend,
        levels=levels,
    )


def _bell(value: FloatArray) -> FloatArray:
    """Density of the normal distribution."""
    result: FloatArray = np.exp(-0.5 * value**2) / np.sqrt(2 * np.pi)
    return result
