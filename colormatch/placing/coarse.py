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


@dataclass(frozen=True, kw_only=True, eq=False)
class Surface:
    """How alike two sketches are at every whole shift, wrapped round.

    Attributes
    ----------
    product : ndarray of shape (H, W)
        Correlation.
    unit : ndarray of shape (H, W)
        Times it is the coefficient; 0 where too little is shared.
    rarity : ndarray of shape (H, W)
        Times the coefficient it is the score.
    """

    product: FloatArray
    unit: FloatArray
    rarity: FloatArray

    @property
    def score(self) -> FloatArray:
        """In units of the spread among unrelated pictures."""
        return self.product * (self.unit * self.rarity)


class Correlator:
    """Compares sketches, keeping the transforms of those already seen."""

    def __init__(self, pieces: list[Sketch]) -> None:
        height, width = np.max([piece.detail.shape for piece in pieces], axis=0)
        self.pieces = pieces
        # Room for both beside each other: as they are, and one of them lying on its side.
        upright, lying = (2 * height, 2 * width), (height + width, height + width)
        self.sizes = (_quick(*upright), _quick(*lying))
        self.kept: dict[tuple[int, float, tuple[int, ...]], Transforms] = {}

    @cached_property
    def half(self) -> Correlator:
        """The same at half the size."""
        return Correlator([_halved(piece) for piece in self.pieces])

    def _size(self, angle: float) -> tuple[int, ...]:
        """Rows and columns of the surface for a turn of the second."""
        return self.sizes[round(angle / 90.0) % 2]

    def _transforms(self, tile: int, angle: float, size: tuple[int, ...]) -> Transforms:
        """Of detail, its square and the mask; the turns that return are kept."""
        from scipy import fft

        key = (tile, angle, size)
        if key in self.kept:
            return self.kept[key]
        piece = turned(self.pieces[tile], angle)
        planes = (piece.detail, piece.detail**2, piece.weight)
        found = tuple(fft.rfft2(plane, s=size) for plane in planes)
        if angle % 90.0 == 0.0:
            self.kept[key] = found
        return found

    def surface(self, first: int, second: int, angle: float) -> Surface:
        """Compare two tiles, the second turned."""
        from scipy import fft

        size = self._size(angle)
        a, a2, am = self._transforms(first, 0.0, size)
        b, b2, bm = self._transforms(second, angle, size)
        planes = np.empty((4, *a.shape), dtype=a.dtype)
        for plane, one, two in zip(planes, (a, a2, am, am), (b, bm, b2, bm), strict=True):
            np.multiply(one, np.conj(two), out=plane)
        product, ours, theirs, shared = fft.irfft2(planes, s=size)
        patch = _patch(a, b, size)
        smaller = min(self.pieces[k].weight.sum() for k in (first, second))
        enough = shared > max(LEAST_SHARE * smaller, 12.0 * patch)
        scale = np.sqrt(np.maximum(ours, 0) * np.maximum(theirs, 0))
        floor = 1e-4 * max(float(scale.max()), 1e-12)
        seen = enough & (scale > floor)
        return Surface(
            product=product,
            unit=np.where(seen, 1.0 / np.maximum(scale, floor), np.float32(0.0)),
            rarity=np.sqrt(np.maximum(shared, 0.0) / max(patch, 1.0)),
        )

    def _slant_scores(
        self, first: int, second: int, angles: list[float], near: Surface
    ) -> list[float]:
        """Best scores of turns, about: with the energies and the shared area of one nearby.

        They change little within a few degrees, and are three quarters of the work.
        """
        from scipy import fft

        size = self._size(angles[0])
        ours = self._transforms(first, 0.0, size)[0]
        unit = near.unit * near.rarity
        scores = []
        for angle in angles:
            theirs = fft.rfft2(turned(self.pieces[second], angle).detail, s=size)
            product = fft.irfft2(ours * np.conj(theirs), s=size)
            scores.append(float((product * unit).max()))
        return scores

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
        return self._best(first, second, angle, self.surface(first, second, angle), near)

    def _best(
        self,
        first: int,
        second: int,
        angle: float,
        surface: Surface,
        near: tuple[tuple[float, float], float] | None = None,
    ) -> Guess:
        """Best place of a surface, as `guess` says."""
        score = surface.score
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
            correlation=float(surface.product[row, column] * surface.unit[row, column]),
        )

    def _shifts(self, first: int, second: int, angle: float) -> tuple[FloatArray, FloatArray]:
        """Millimetres between the middles for every column and row of a surface."""
        a = self.pieces[first].detail.shape
        b = self.pieces[second].detail.shape
        if round(angle / 90.0) % 2:
            b = b[::-1]
        rows, columns = (np.fft.fftfreq(n, 1.0 / n) for n in self._size(angle))
        pitch = self.pieces[first].pitch
        return (
            (columns + (b[1] - a[1]) / 2.0) * pitch,
            (rows + (b[0] - a[0]) / 2.0) * pitch,
        )

    def guesses(self, first: int, second: int) -> list[Guess]:
        """Best shift in each quarter turn, best first; the best one's slant is searched."""
        looks = []
        for quarter in (0.0, 90.0, 180.0, 270.0):
            surface = self.surface(first, second, quarter)
            looks.append((self._best(first, second, quarter, surface), surface))
        looks.sort(key=lambda look: -look[0].score)
        best = self._slanted(first, second, *looks[0])
        return [best, *(guess for guess, _ in looks[1:])]

    def wide_guesses(self, first: int, second: int) -> list[Guess]:
        """`guesses` with larger slants in every turn, looked through at half size first."""
        found = []
        for quarter in (0.0, 90.0, 180.0, 270.0):
            tried = [self.half.guess(first, second, quarter + s) for s in WIDE_SLANTS]
            angle = max(tried, key=lambda g: g.score).angle
            near = [self.guess(first, second, angle + s) for s in NEAR_SLANTS]
            found.append(max(near, key=lambda g: g.score))
        return sorted(found, key=lambda g: -g.score)

    def _slanted(self, first: int, second: int, start: Guess, surface: Surface) -> Guess:
        """Guess with its slant searched in whole degrees."""
        angles = [start.angle + slant for slant in SLANTS if slant != 0.0]
        scores = self._slant_scores(first, second, angles, surface)
        likeliest = angles[int(np.argmax(scores))]
        return max([start, self.guess(first, second, likeliest)], key=lambda g: g.score)


def _quick(*lengths: int) -> tuple[int, ...]:
    """Even lengths, no shorter, that are quick to transform."""
    from scipy import fft

    return tuple(2 * fft.next_fast_len(-(-int(n) // 2), real=True) for n in lengths)


def _patch(
    a: NDArray[np.complexfloating], b: NDArray[np.complexfloating], size: tuple[int, ...]
) -> float:
    """Area per free sample of two transformed sketches, pixels."""
    ours, theirs = (plane.real**2 + plane.imag**2 for plane in (a, b))
    patch = size[0] * size[1] * _plane_sum(ours * theirs)
    return patch / max(_plane_sum(ours) * _plane_sum(theirs), 1e-30)


def _plane_sum(half: FloatArray) -> float:
    """Sum over the whole plane of an evenly wide real picture's spectrum, stored by half."""
    return float(2.0 * half.sum() - half[:, 0].sum() - half[:, -1].sum())
