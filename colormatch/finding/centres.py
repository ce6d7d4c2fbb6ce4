"""The exact centre of a ring mark, by fitting the rings themselves."""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import sqrt

import numpy as np

from colormatch.finding.rings import RIM, ring_edges
from colormatch.model import FloatArray

ROUNDS = 12
"""Steps of the fit; four or five are enough for a clean mark."""

SETTLED = 2e-4
"""Change of the centre, as a share of the radius, that ends the fit."""

FIRST_BLUR = 0.09
"""Of the edges, as a share of the radius: wide, so that a first guess may be off."""

SECOND_BLUR = 0.03
"""For the second fit, which begins where the first ended."""

FIRST_CAUTION, SECOND_CAUTION, LAST_CAUTION, EASING = 0.3, 0.06, 0.02, 0.6
"""Least noise supposed, as a share of the contrast, and how it falls with each step."""

DIRT = 0.2
"""Share of the contrast by which a pixel must be off to count as dirt, not as noise."""

DIRT_REACH = 0.07
"""Share of the radius round dirt that is left out with it."""

COARSE_RADIUS, FINE_RADIUS = 16.0, 40.0
"""Pixels to which a larger mark is reduced, for the first and for the final fit."""

LEAST_BLUR, MOST_BLUR = 0.006, 0.15
MOST_SPREAD = 0.08
"""By which ink may spread or shrink, as a share of the radius."""

REJECT = 4.7
"""Robust standard deviations at which a pixel's weight reaches 0 (Tukey's biweight at
95 % efficiency: Holland and Welsch, Communications in Statistics A6(9), 1977)."""

LEAST_NOISE = 0.004
"""Of encoded values: one 8-bit code."""

LEAST_CONTRAST = 0.08
"""Of encoded values between ink and paper."""

LEAST_INLIERS = 0.6
LEAST_EXPLAINED = 0.85
"""Share of the pixels, and of their variance, that a real mark's rings account for."""

CLOSE_INLIERS = 2.5
"""Robust standard deviations within which a pixel counts as explained."""


@dataclass(frozen=True, kw_only=True)
class Centre:
    """Where a mark's centre was found.

    ``x`` and ``y`` are pixels of the window; ``scale`` is the mark's size over the
    size expected; ``inliers`` and ``explained`` say how much of it was seen.
    """

    x: float
    y: float
    scale: float
    inliers: float
    explained: float

    @property
    def clear(self) -> bool:
        """Tell whether this is a mark, seen well enough."""
        return self.inliers >= LEAST_INLIERS and self.explained >= LEAST_EXPLAINED


def find_centre(
    grey: FloatArray, guess: tuple[float, float], linear: FloatArray, radius: float, kind: str
) -> Centre | None:
    """Fit the rings of a mark.

    Paper and ink are planes, so that a light gradient does not pull the centre; the
    blur of the edges, the spread of the ink and the size are fitted with it. Pixels
    that do not fit (dust, a hair) lose their weight.

    Parameters
    ----------
    grey : ndarray of shape (H, W)
        Encoded values round the mark.
    guess : tuple of float
        x and y of the centre, within a fifth of the radius.
    linear : ndarray of shape (2, 2)
        Pixels from millimetres, without the shift.
    radius : float
        Of the mark, millimetres.
    kind : str
        A key of `RING_EDGES`.

    Returns
    -------
    Centre or None
        None if the fit runs away or there is no contrast.
    """
    pixels = radius * sqrt(abs(float(np.linalg.det(linear))))
    found: Centre | None = None
    # One round if the mark is so small that both would see the same pixels.
    steps = {max(1, int(pixels / wanted)) for wanted in (COARSE_RADIUS, FINE_RADIUS)}
    for step in sorted(steps, reverse=True):
        small = _block_means(grey, step)
        x, y = ((value - (step - 1) / 2) / step for value in guess)
        inverse = np.linalg.inv(linear) * (step / radius)
        fit = _RingFit(small, (x, y), inverse, kind)
        found = fit.settled(first=found is None, last=step == min(steps))
        if found is None:
            return None
        guess = (step * found.x + (step - 1) / 2, step * found.y + (step - 1) / 2)
        found = replace(found, x=guess[0], y=guess[1])
    return found


def _block_means(grey: FloatArray, step: int) -> FloatArray:
    """Reduce a picture; what is left over at the right and below is dropped."""
    if step == 1:
        return grey
    rows, columns = (side // step for side in grey.shape)
    cut = grey[: rows * step, : columns * step]
    means: FloatArray = cut.reshape(rows, step, columns, step).mean(axis=(1, 3))
    return means


class _RingFit:
    """Gauss-Newton steps with robust weights.

    Lengths inside are shares of the mark's radius, in the mark's own directions.
    """

    def __init__(
        self, grey: FloatArray, guess: tuple[float, float], inverse: FloatArray, kind: str
    ) -> None:
        self.grey = grey.astype(np.float64)
        self.inverse = inverse
        self.guess = np.array(guess, dtype=np.float64)
        self.radii, self.steps, self.middle = ring_edges(kind)
        rows, columns = np.indices(grey.shape)
        px = np.stack([columns - guess[0], rows - guess[1]], axis=-1)
        self.points = px @ inverse.T
        self.shift = np.zeros(2)
        self.size, self.blur, self.spread = 1.0, FIRST_BLUR, 0.0
        self.caution = FIRST_CAUTION
        self.explained = self.inliers = self.contrast = 0.0
        self.clean = np.ones(grey.shape, dtype=np.bool_)
        self.seen, self.residual = self.clean, np.zeros(grey.size)

    def settled(self, *, first: bool, last: bool) -> Centre | None:
        """Improve until the centre stays.

        ``first`` for a guess that may be far off, ``last`` if dirt is to be left out.
        """
        self.blur = FIRST_BLUR if first else SECOND_BLUR
        self.caution = FIRST_CAUTION if first else SECOND_CAUTION
        if not self._run():
            return None
        if last and self._leave_out_dirt() and not self._run():
            return None
        return self.result()

    def _run(self) -> bool:
        """Make steps until the centre stays; tell whether there is a mark."""
        for _ in range(ROUNDS):
            moved = self.improve()
            if moved is None:
                return False
            if moved < SETTLED and self.caution < LAST_CAUTION:
                break
            self.caution *= EASING
        return True

    def _leave_out_dirt(self) -> bool:
        """Leave out pixels that do not fit and those round them, which may be half dirty.

        Returns
        -------
        bool
            Whether there were any.
        """
        import cv2

        limit = max(DIRT * self.contrast, REJECT * LEAST_NOISE)
        dirty = np.zeros(self.grey.shape, np.uint8)
        dirty[self.seen] = np.abs(self.residual) > limit
        per_radius = 1 / sqrt(abs(float(np.linalg.det(self.inverse))))
        reach = 2 * max(1, round(DIRT_REACH * per_radius)) + 1
        self.clean = cv2.dilate(dirty, np.ones((reach, reach), np.uint8)) == 0
        return bool(dirty.any())

    def improve(self) -> float | None:
        """Make one step; give how far the centre moved, None if there is no mark."""
        away = self.points - self.shift
        distance = np.hypot(away[..., 0], away[..., 1])
        inside = distance < RIM * self.size
        whole = int(inside.sum())
        inside &= self.clean
        if inside.sum() < 30:
            return None
        away, distance, value = away[inside], distance[inside], self.grey[inside]
        paper, by_distance, by_blur, by_spread = self._profile(distance)
        ground = np.column_stack([np.ones(len(away)), away])
        flat, weights = self._levels(value, ground, paper)
        contrast = ground @ flat[3:]
        if np.mean(contrast) < LEAST_CONTRAST:
            return None
        direction = away / np.maximum(distance, 1e-6)[:, None]
        slopes = np.column_stack(
            [
                -(contrast * by_distance)[:, None] * direction,
                -contrast * by_distance * distance / self.size,
                contrast * by_blur,
                contrast * by_spread,
                ground,
                ground * paper[:, None],
            ]
        )
        residual = value - ground @ flat[:3] - paper * contrast
        self.inliers *= len(away) / whole
        self.seen, self.residual, self.contrast = inside, residual, float(np.mean(contrast))
        return self._step(slopes, residual, weights)

    def result(self) -> Centre | None:
        """Give the centre in pixels of the window."""
        if np.hypot(*self.shift) > 0.4 or not 0.85 < self.size < 1.15:
            return None
        x, y = self.guess + np.linalg.solve(self.inverse, self.shift)
        return Centre(
            x=float(x),
            y=float(y),
            scale=self.size,
            inliers=self.inliers,
            explained=self.explained,
        )

    def _profile(self, distance: FloatArray) -> tuple[FloatArray, ...]:
        """Give the paper share and its slopes by distance, blur and spread."""
        from scipy.special import ndtr

        # The blur is the scanner's, so it does not grow with the mark.
        offset = distance[:, None] - (self.radii * self.size + self.spread * self.steps)
        offset = offset / self.blur
        bell = np.exp(-0.5 * offset * offset) / (sqrt(2 * np.pi) * self.blur)
        paper = self.middle + ndtr(offset) @ self.steps
        by_distance = bell @ self.steps
        by_blur = -(bell * offset) @ self.steps
        by_spread = -bell.sum(axis=1)
        return paper, by_distance, by_blur, by_spread

    def _levels(
        self, value: FloatArray, ground: FloatArray, paper: FloatArray
    ) -> tuple[FloatArray, FloatArray]:
        """Fit the planes of ink and paper, robustly; give them and the weights."""
        terms = np.column_stack([ground, ground * paper[:, None]])
        weights = np.ones(len(value))
        for _ in range(3):
            weighted = terms * weights[:, None]
            flat = np.linalg.lstsq(weighted.T @ terms, weighted.T @ value, rcond=None)[0]
            residual = value - terms @ flat
            noise = max(1.4826 * float(np.median(np.abs(residual))), LEAST_NOISE)
            # While the centre is off, edges look like dirt: judge them mildly at first.
            noise = max(noise, self.caution * abs(float(flat[3])))
            weights = np.clip(1 - (residual / (REJECT * noise)) ** 2, 0, None) ** 2
        self._judge(value, residual, weights)
        return flat, weights

    def _judge(self, value: FloatArray, residual: FloatArray, weights: FloatArray) -> None:
        """Keep how much of the picture the rings account for."""
        mean = np.average(value, weights=weights)
        total = np.average((value - mean) ** 2, weights=weights)
        left = np.average(residual**2, weights=weights)
        self.explained = float(1 - left / max(total, 1e-12))
        # Against the contrast, not the noise alone: half a covered mark has much noise.
        limit = max(CLOSE_INLIERS * LEAST_NOISE, 0.15 * sqrt(max(total, 0.0)) * 2)
        self.inliers = float(np.mean(np.abs(residual) < limit))

    def _step(self, slopes: FloatArray, residual: FloatArray, weights: FloatArray) -> float | None:
        """Solve for the step and take it, within bounds."""
        weighted = slopes * weights[:, None]
        normal = weighted.T @ slopes
        # A blur or spread that the picture does not show stays where it is.
        normal[np.diag_indices(5)] += 1e-9 * np.trace(normal[:5, :5])
        try:
            step = np.linalg.solve(normal, weighted.T @ residual)
        except np.linalg.LinAlgError:
            return None
        move = np.clip(step[:2], -0.1, 0.1)
        self.shift = self.shift + move
        self.size = float(np.clip(self.size + np.clip(step[2], -0.03, 0.03), 0.8, 1.2))
        self.blur = float(np.clip(self.blur + step[3], LEAST_BLUR, MOST_BLUR))
        self.spread = float(np.clip(self.spread + step[4], -MOST_SPREAD, MOST_SPREAD))
        if not np.isfinite(self.shift).all() or np.hypot(*self.shift) > 0.5:
            return None
        return float(np.hypot(*move))
