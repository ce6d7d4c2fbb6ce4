"""Which tile lies beside which, by how many quarter turns, and roughly where.

Every pair is compared whole, small, in all four turns: the correlation
coefficient of what both show, for every shift at once, each tile under its
mask (D. Padfield, IEEE Trans. Image Process. 21, 2706, 2012). A coefficient
is believed by how rare it would be among unrelated pictures of that size.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray
from colormatch.placing.poses import MM_PER_INCH
from colormatch.placing.tiles import Tile, log_light

SKETCH = 240
"""Pixels along the longest side of all tiles."""
FINE, COARSE = 0.8, 4.0
"""Blurs of the sketch's band-pass, pixels."""
LEAST_SHARE = 0.015
"""Smallest shared area looked for, of the smaller tile: names overlaps under 5 %."""
SLANTS = (-3.0, -2.0, -1.0, 0.0, 1.0, 2.0, 3.0)
"""Degrees tried about the best quarter turn."""
WIDE_SLANTS = (-9.0, -7.5, -6.0, -4.5, -3.0, -1.5, 0.0, 1.5, 3.0, 4.5, 6.0, 7.5, 9.0)
"""Degrees tried, in all four turns, for tiles that nothing else has placed."""
NEAR_SLANTS = (-0.75, 0.0, 0.75)
"""Degrees tried about the best of those."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Sketch:
    """Tile reduced: detail under its mask, and the mask, at ``pitch`` mm."""

    detail: NDArray[np.float32]
    weight: NDArray[np.float32]
    pitch: float


@dataclass(frozen=True, kw_only=True)
class Guess:
    """Second tile turned by ``angle`` about its middle, then put at ``shift``.

    Attributes
    ----------
    angle : float
        Degrees clockwise.
    shift : tuple of float
        Its middle from the first tile's middle, mm.
    score : float
        Correlation in units of its spread among unrelated pictures.
    correlation : float
        The coefficient itself.
    """

    angle: float
    shift: tuple[float, float]
    score: float
    correlation: float


def sketches(tiles: tuple[Tile, ...]) -> list[Sketch]:
    """All tiles reduced to one pitch."""
    longest = max(
        max(tile.width / tile.ppi[0], tile.height / tile.ppi[1]) * MM_PER_INCH for tile in tiles
    )
    return [_sketch(tile, longest / SKETCH) for tile in tiles]


def _sketch(tile: Tile, pitch: float) -> Sketch:
    """One tile reduced; what lies outside the mask does not bleed into it."""
    import cv2

    size = tuple(
        max(8, round(length / ppi * MM_PER_INCH / pitch))
        for length, ppi in ((tile.width, tile.ppi[0]), (tile.height, tile.ppi[1]))
    )
    whole = tile.painted.astype(np.float32)
    light = log_light(tile.overview, tile.linear) * whole
    log = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    mask = cv2.resize(whole, size, interpolation=cv2.INTER_AREA)
    blurred = [
        cv2.GaussianBlur(log, (0, 0), s) / np.maximum(cv2.GaussianBlur(mask, (0, 0), s), 1e-3)
        for s in (FINE, COARSE)
    ]
    weight = (mask > 0.99).astype(np.float32)
    detail = (blurred[0] - blurred[1]) * weight
    return Sketch(detail=_calmed(detail, weight), weight=weight, pitch=pitch)


def _calmed(detail: FloatArray, weight: FloatArray) -> NDArray[np.float32]:
    """Detail with its loudest places held down, so that one edge cannot outvote all."""
    inside = np.abs(detail[weight > 0])
    if inside.size == 0:
        return np.asarray(detail, dtype=np.float32)
    limit = max(3.0 * float(np.median(inside)) / 0.6745, 1e-6)
    return np.asarray(limit * np.tanh(detail / limit) * weight, dtype=np.float32)


def turned(sketch: Sketch, angle: float) -> Sketch:
    """Sketch turned clockwise by any angle; quarter turns exactly."""
    import cv2

    quarters = round(angle / 90.0)
    detail = np.ascontiguousarray(np.rot90(sketch.detail, -quarters))
    weight = np.ascontiguousarray(np.rot90(sketch.weight, -quarters))
    rest = angle - 90.0 * quarters
    if abs(rest) > 1e-6:
        height, width = detail.shape
        matrix = cv2.getRotationMatrix2D(((width - 1) / 2.0, (height - 1) / 2.0), -rest, 1.0)
        size = (width, height)
        detail = _plane(cv2.warpAffine(detail, matrix, size, flags=cv2.INTER_LINEAR))
        weight = _plane(cv2.warpAffine(weight, matrix, size, flags=cv2.INTER_NEAREST))
    return Sketch(detail=detail * weight, weight=weight, pitch=sketch.pitch)


def _halved(sketch: Sketch) -> Sketch:
    """Reduce a sketch to half its size."""
    import cv2

    height, width = sketch.detail.shape
    size = (max(4, round(width / 2)), max(4, round(height / 2)))
    weight = _plane(cv2.resize(sketch.weight, size, interpolation=cv2.INTER_AREA)) > 0.99
    detail = _plane(cv2.resize(sketch.detail, size, interpolation=cv2.INTER_AREA))
    inside = weight.astype(np.float32)
    return Sketch(detail=detail * inside, weight=inside, pitch=2.0 * sketch.pitch)


def _plane(values: object) -> NDArray[np.float32]:
    return np.asarray(values, dtype=np.float32)


Transforms = tuple[NDArray[np.complexfloating], ...]


class Correlator:
    """Compares sketches, keeping the transforms of those already seen."""

    def __init__(self, pieces: list[Sketch]) -> None:
        from scipy import fft

        longest = max(max(piece.detail.shape) for piece in pieces)
        self.pieces = pieces
        self.size = fft.next_fast_len(2 * longest, real=True)
        self.kept: dict[tuple[int, float], Transforms] = {}

    @cached_property
    def half(self) -> Correlator:
        """The same at half the size."""
        return Correlator([_halved(piece) for piece in self.pieces])

    def _transforms(self, tile: int, angle: float) -> Transforms:
        from scipy import fft

        key = (tile, angle)
        if key in self.kept:
            return self.kept[key]
        piece = turned(self.pieces[tile], angle)
        planes = (piece.detail, piece.detail**2, piece.weight)
        found = tuple(fft.rfft2(plane, s=(self.size, self.size)) for plane in planes)
        if angle % 90.0 == 0.0:
            self.kept[key] = found
        return found

    def surface(
        self, first: int, second: int, angle: float
    ) -> tuple[FloatArray, FloatArray, float]:
        """Scores and coefficients for every whole shift, and the area per free sample."""
        from scipy import fft

        a, a2, am = self._transforms(first, 0.0)
        b, b2, bm = self._transforms(second, angle)
        planes = np.stack([a * b.conj(), a2 * bm.conj(), am * b2.conj(), am * bm.conj()])
        product, ours, theirs, shared = fft.irfft2(planes, s=(self.size, self.size))
        powers = np.abs(a) ** 2, np.abs(b) ** 2
        patch = self.size**2 * _plane_sum(powers[0] * powers[1])
        patch /= max(_plane_sum(powers[0]) * _plane_sum(powers[1]), 1e-30)
        smaller = min(self.pieces[k].weight.sum() for k in (first, second))
        enough = shared > max(LEAST_SHARE * smaller, 12.0 * patch)
        scale = np.sqrt(np.maximum(ours, 0) * np.maximum(theirs, 0))
        floor = 1e-4 * max(float(scale.max()), 1e-12)
        coefficient = np.where(enough & (scale > floor), product / np.maximum(scale, floor), 0.0)
        score = coefficient * np.sqrt(np.maximum(shared, 0.0) / max(patch, 1.0))
        return score, coefficient, patch

    def guess(
        self,
        first: int,
        second: int,
        angle: float,
        near: tuple[tuple[float, float], float] | None = None,
    ) -> Guess:
        """Best shift for one turn.

        Parameters
        ----------
        first, second : int
            Which tiles.
        angle : float
            Clockwise turn of the second, degrees.
        near : ((x, y), radius) or None
            Look only for shifts within ``radius`` of (x, y), all mm.
        """
        score, coefficient, _ = self.surface(first, second, angle)
        shift_x, shift_y = self._shifts(first, second, angle)
        if near is not None:
            (x, y), radius = near
            far = np.hypot(shift_x[None, :] - x, shift_y[:, None] - y) > radius
            score = np.where(far, -np.inf, score)
        row, column = np.unravel_index(int(np.argmax(score)), score.shape)
        return Guess(
            angle=angle,
            shift=(float(shift_x[column]), float(shift_y[row])),
            score=float(score[row, column]),
            correlation=float(coefficient[row, column]),
        )

    def _shifts(self, first: int, second: int, angle: float) -> tuple[FloatArray, FloatArray]:
        """Millimetres between the middles for every column and row of a surface."""
        a = self.pieces[first].detail.shape
        b = self.pieces[second].detail.shape
        if round(angle / 90.0) % 2:
            b = b[::-1]
        whole = np.fft.fftfreq(self.size, 1.0 / self.size)
        pitch = self.pieces[first].pitch
        return (
            (whole + (b[1] - a[1]) / 2.0) * pitch,
            (whole + (b[0] - a[0]) / 2.0) * pitch,
        )

    def guesses(self, first: int, second: int) -> list[Guess]:
        """Best shift in each quarter turn, best first; the best one's slant is searched."""
        turns = (0.0, 90.0, 180.0, 270.0)
        found = sorted(
            (self.guess(first, second, quarter) for quarter in turns), key=lambda g: -g.score
        )
        return [self.slanted(first, second, found[0]), *found[1:]]

    def wide_guesses(self, first: int, second: int) -> list[Guess]:
        """`guesses` with larger slants in every turn, looked through at half size first."""
        found = []
        for quarter in (0.0, 90.0, 180.0, 270.0):
            tried = [self.half.guess(first, second, quarter + s) for s in WIDE_SLANTS]
            angle = max(tried, key=lambda g: g.score).angle
            near = [self.guess(first, second, angle + s) for s in NEAR_SLANTS]
            found.append(max(near, key=lambda g: g.score))
        return sorted(found, key=lambda g: -g.score)

    def slanted(self, first: int, second: int, start: Guess) -> Guess:
        """Guess with its slant searched in whole degrees."""
        tried = [self.guess(first, second, start.angle + slant) for slant in SLANTS if slant != 0.0]
        return max([start, *tried], key=lambda g: g.score)


def _plane_sum(half: FloatArray) -> float:
    """Sum over the whole plane of a real picture's spectrum, stored by half."""
    return float(2.0 * half.sum() - half[:, 0].sum() - half[:, -1].sum())
