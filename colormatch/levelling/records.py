"""What levelling takes and gives: records, checked where they are made."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.errors import InputError
from colormatch.model import FloatArray

PointMap = Callable[[FloatArray], FloatArray]
"""Points (N, 2) in pixels to points (N, 2) in millimetres."""

STRIP_COMMON = 0.003
"""Error all places of one strip share, log light, one sigma: strips are even to 0.3-0.5 %."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Anchors:
    """What a tile's strip says about the light where it lies.

    Attributes
    ----------
    points : ndarray of shape (N, 2)
        Places ``(x, y)`` in pixels of the small picture; outside it is allowed.
    residual : ndarray of shape (N, 3)
        Logarithm of the light read there over the light the strip sends.
    sigma : ndarray of shape (N,)
        Error of each place on its own, log light.
    common : float
        Error all places share, log light.
    """

    points: FloatArray
    residual: FloatArray
    sigma: FloatArray
    common: float = STRIP_COMMON

    def __post_init__(self) -> None:
        count = len(self.points)
        shapes = (np.shape(self.points), np.shape(self.residual), np.shape(self.sigma))
        if shapes != ((count, 2), (count, 3), (count,)) or count == 0:
            raise InputError(f"anchors need shapes (N, 2), (N, 3) and (N,), N > 0 (got {shapes})")
        numbers = np.concatenate([np.ravel(a) for a in (self.points, self.residual, self.sigma)])
        if not np.all(np.isfinite(numbers)) or np.min(self.sigma) <= 0 or self.common <= 0:
            raise InputError("anchors must be finite and their sigma above 0; leave bad places out")


@dataclass(frozen=True, kw_only=True, eq=False)
class LevelTile:
    """One tile in small, its colour already corrected.

    Attributes
    ----------
    name : str
        As the report shall call it.
    light : ndarray of float32, shape (h, w, 3)
        Linear light, block means of 1 to 2 mm.
    valid : ndarray of bool, shape (h, w)
        True on the painting alone: no strip, no lid, no border.
    mm_from_px : ndarray of shape (2, 3) or callable
        From pixels of ``light`` to painting millimetres common to all tiles.
    scanner_mm_from_px : ndarray of shape (2, 3)
        From pixels of ``light`` to millimetres on the glass, x along the lamp
        and y along the carriage's way; see `glass_map`.
    anchors : Anchors or None
        None if the tile has no strip.
    lamp : ndarray of shape (h, w) or None
        Relative light that was divided out of ``light`` before (the fall-off
        along the strip); it is put back for the solve, so that the lamp's
        profile can be shared by tiles whose strips lie differently.
    """

    name: str
    light: NDArray[np.float32]
    valid: NDArray[np.bool_]
    mm_from_px: FloatArray | PointMap
    scanner_mm_from_px: FloatArray
    anchors: Anchors | None = None
    lamp: FloatArray | None = None

    def __post_init__(self) -> None:
        if self.light.ndim != 3 or self.light.shape[2] != 3 or min(self.light.shape[:2]) < 2:
            raise InputError(f"{self.name}: light must be (h, w, 3) (got {self.light.shape})")
        if self.valid.shape != self.light.shape[:2] or self.valid.dtype != np.bool_:
            raise InputError(f"{self.name}: valid must be a mask of shape {self.light.shape[:2]}")
        if self.lamp is not None and self.lamp.shape != self.light.shape[:2]:
            raise InputError(f"{self.name}: lamp must have shape {self.light.shape[:2]}")
        if self.lamp is not None and not float(np.min(self.lamp)) > 0:
            raise InputError(f"{self.name}: lamp must be above 0 everywhere")


@dataclass(frozen=True, kw_only=True, eq=False)
class PairSamples:
    """Places that two tiles both show.

    Attributes
    ----------
    first, second : int
        Which tiles.
    places : ndarray of shape (N, 2)
        Painting millimetres.
    cells : ndarray of int, shape (N, 2)
        Row and column on a lattice, to know neighbours.
    glass_first, glass_second : ndarray of shape (N, 2)
        Where each tile shows them, millimetres on the glass.
    ratio : ndarray of shape (N, 3)
        Log light of the first less that of the second, as given.
    lamp_ratio : ndarray of shape (N,)
        The same of what was divided out of them before.
    light : ndarray of shape (N, 3)
        Geometric mean of the two.
    sigma : ndarray of shape (N,)
        Expected error of ``ratio`` in each channel.
    """

    first: int
    second: int
    places: FloatArray
    cells: NDArray[np.intp]
    glass_first: FloatArray
    glass_second: FloatArray
    ratio: FloatArray
    lamp_ratio: FloatArray
    light: FloatArray
    sigma: FloatArray


@dataclass(frozen=True, kw_only=True)
class Unevenness:
    """How far two tiles differ at the same places (means over about 4 mm).

    Percentages of light (mean of the channels) and CIEDE2000, mean and P95.
    """

    mean_percent: float
    p95_percent: float
    mean_de: float
    p95_de: float


@dataclass(frozen=True, kw_only=True, eq=False)
class PairLevel:
    """One overlap before and after levelling.

    Attributes
    ----------
    first, second : int
        Which tiles.
    before, after : Unevenness
        Over all its places.
    agreeing : Unevenness
        After, over the places that were not left out.
    left_out : float
        Share of places left out as local differences, 0 to 1.
    places : ndarray of shape (N, 2)
        Painting millimetres.
    remaining : ndarray of shape (N, 3)
        Log ratio after levelling, first less second.
    de_before, de_after : ndarray of shape (N,)
        CIEDE2000 between the two tiles at each place.
    trusted : ndarray of bool, shape (N,)
        False where left out.
    """

    first: int
    second: int
    before: Unevenness
    after: Unevenness
    agreeing: Unevenness
    left_out: float
    places: FloatArray
    remaining: FloatArray
    de_before: FloatArray
    de_after: FloatArray
    trusted: NDArray[np.bool_]


@dataclass(frozen=True, kw_only=True, eq=False)
class TileLevel:
    """What levelling does to one tile, in percent of light.

    Attributes
    ----------
    name : str
    tied_to : str
        ``"strip"``, ``"neighbours"`` (no strip: its colour comes through the
        overlaps) or ``"nothing"`` (its level is left as it was).
    gain_percent : tuple of float
        Per channel, of the light that it had too much.
    profile_percent, carriage_percent, field_percent, blank_percent : float
        Largest less smallest of each term over the tile, mean of the channels.
    level_sigma_percent : float
        Uncertainty of the tile's mean level, one sigma.
    largest_sigma_percent : float
        Of its least certain place.
    """

    name: str
    tied_to: str
    gain_percent: tuple[float, float, float]
    profile_percent: float
    carriage_percent: float
    field_percent: float
    blank_percent: float
    level_sigma_percent: float
    largest_sigma_percent: float


@dataclass(frozen=True, kw_only=True, eq=False)
class TileGain:
    """What to multiply a tile with.

    Attributes
    ----------
    gain : ndarray of float32, shape (h, w, 3)
        On the grid of the tile's small picture.
    sigma : ndarray of float32, shape (h, w)
        Uncertainty of the logarithm of the gain, one sigma, mean of the channels.
    """

    gain: NDArray[np.float32]
    sigma: NDArray[np.float32]


@dataclass(frozen=True, kw_only=True, eq=False)
class LevelReport:
    """Figures and sentences for the report.

    Attributes
    ----------
    pairs : tuple of PairLevel
    tiles : tuple of TileLevel
    assumptions : tuple of str
        What could not be seen, and what was taken for it.
    """

    pairs: tuple[PairLevel, ...]
    tiles: tuple[TileLevel, ...]
    assumptions: tuple[str, ...]
