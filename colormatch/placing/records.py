"""What placing gives: a pose per tile, maps between scans and canvas, and doubts."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from colormatch.model import FloatArray
from colormatch.placing.poses import Pose, turning

KNOTS_EVERY = 16
"""Places of `Placement.scan_map` from one computed exactly to the next."""


@dataclass(frozen=True, kw_only=True)
class Doubt:
    """Something the user should look at.

    Attributes
    ----------
    kind : str
        ``"hint"`` (placed by the order given, not by the picture),
        ``"weak"`` (little to hold on to), ``"conflict"`` (two finds that
        exclude each other), ``"scale"`` (the ppi in the file is not
        believed), ``"residual"`` (places that do not fit),
        ``"unchecked"`` (an overlap in which nothing could be compared).
    tiles : tuple of str
        Names.
    text : str
        One sentence: what, where, what to do.
    """

    kind: str
    tiles: tuple[str, ...]
    text: str


@dataclass(frozen=True, kw_only=True, eq=False)
class PairFit:
    """How well two tiles coincide; lengths in canvas pixels.

    Attributes
    ----------
    first, second : int
        Which tiles.
    share : float
        Shared area over the smaller tile's painted area.
    places : ndarray of shape (K, 2)
        Canvas pixels of the blocks compared.
    gaps : ndarray of shape (K, 2)
        First minus second.
    weights : ndarray of shape (K,)
        0 where a block was left out, 1 where it counts fully.
    tried : int
        Blocks looked at, with those that showed nothing.
    rms, largest : float
        Of the lengths of the gaps of blocks that count (weight above one half).
    spread : float
        Predicted error where the overlap is known worst, one sigma.
    """

    first: int
    second: int
    share: float
    places: FloatArray
    gaps: FloatArray
    weights: FloatArray
    tried: int
    rms: float
    largest: float
    spread: float


@dataclass(frozen=True, kw_only=True, eq=False)
class Placement:
    """Where all tiles lie on one canvas.

    Attributes
    ----------
    names : tuple of str
        The tiles, in the order given.
    poses : tuple of Pose
        Scan pixels to painting millimetres.
    ppi : float
        Of the canvas.
    width, height : int
        Of the canvas, pixels.
    canvas_from_mm : ndarray of shape (2, 3)
        A similarity from painting millimetres to canvas pixels.
    pairs : tuple of PairFit
        Every two tiles compared.
    rms, largest : float
        Over all pairs, canvas pixels.
    chi_square : float
        Per degree of freedom: 1 if blocks differ as their noise predicts.
    doubts : tuple of Doubt
    """

    names: tuple[str, ...]
    poses: tuple[Pose, ...]
    ppi: float
    width: int
    height: int
    canvas_from_mm: FloatArray
    pairs: tuple[PairFit, ...]
    rms: float
    largest: float
    chi_square: float
    doubts: tuple[Doubt, ...]

    def canvas_from_scan(self, tile: int, points: FloatArray) -> FloatArray:
        """Scan pixels (x, y) of one tile, any leading shape, to canvas pixels."""
        flat = np.asarray(points, dtype=float).reshape(-1, 2)
        mm = self.poses[tile].painting_from_scan(flat)
        matrix = self.canvas_from_mm
        return np.asarray((mm @ matrix[:, :2].T + matrix[:, 2]).reshape(np.shape(points)))

    def scan_from_canvas(self, tile: int, points: FloatArray) -> FloatArray:
        """Canvas pixels (x, y), any leading shape, to scan pixels of one tile."""
        flat = np.asarray(points, dtype=float).reshape(-1, 2)
        inverse = np.linalg.inv(self.canvas_from_mm[:, :2])
        mm = (flat - self.canvas_from_mm[:, 2]) @ inverse.T
        return np.asarray(self.poses[tile].scan_from_painting(mm).reshape(np.shape(points)))

    def scan_map(
        self, tile: int, columns: FloatArray, rows: FloatArray, *, every: int = KNOTS_EVERY
    ) -> tuple[FloatArray, FloatArray]:
        """Scan x and y where canvas columns and rows cross.

        Parameters
        ----------
        tile : int
        columns, rows : ndarray of shape (W,), (H,)
            Canvas pixels, evenly spaced.
        every : int
            Exact at every so many of them, linear between. For a swing of 1 px in
            25 mm at 300 ppi and 16 canvas pixels the error stays below 0.004 px; it
            grows with the square of the distance.

        Returns
        -------
        x, y : ndarray of float32, shape (H, W)
        """
        exact = self.scan_from_canvas(
            tile, np.stack(np.meshgrid(_knots(columns, every), _knots(rows, every)), axis=-1)
        )
        down, across = _linear_weights(len(rows), every), _linear_weights(len(columns), every).T
        return (
            (down @ exact[..., 0] @ across).astype(np.float32),
            (down @ exact[..., 1] @ across).astype(np.float32),
        )

    def outline(self, tile: int) -> FloatArray:
        """Corners of a scan on the canvas, clockwise from its top left, (4, 2)."""
        width, height = self.poses[tile].size
        ends = np.array([[0, 0], [width, 0], [width, height], [0, height]]) - 0.5
        return self.canvas_from_scan(tile, ends)

    def with_canvas(self, angle: float, box: tuple[float, float, float, float]) -> Placement:
        """Put the same placement on a canvas turned clockwise and cut.

        Parameters
        ----------
        angle : float
            Degrees about the present origin.
        box : tuple of float
            Left, top, right, bottom edges in canvas pixels after the turn.
        """
        left, top, right, bottom = box
        turn = turning(angle)
        linear = turn @ self.canvas_from_mm[:, :2]
        shift = turn @ self.canvas_from_mm[:, 2] - (left + 0.5, top + 0.5)
        return replace(
            self,
            width=max(1, round(right - left)),
            height=max(1, round(bottom - top)),
            canvas_from_mm=np.column_stack([linear, shift]),
            pairs=tuple(_turned_fit(fit, turn, (left, top)) for fit in self.pairs),
        )


def _turned_fit(fit: PairFit, turn: FloatArray, corner: tuple[float, float]) -> PairFit:
    places = fit.places @ turn.T - (corner[0] + 0.5, corner[1] + 0.5)
    return replace(fit, places=places, gaps=fit.gaps @ turn.T)


def _knots(places: FloatArray, every: int) -> FloatArray:
    """Every so many of evenly spaced places, on until they enclose all."""
    step = float(places[1] - places[0]) if len(places) > 1 else 1.0
    count = max(2, -(-(len(places) - 1) // every) + 1)
    return float(places[0]) + step * every * np.arange(count)


def _linear_weights(count: int, every: int) -> FloatArray:
    """Matrix (count, knots) that interpolates between `_knots`."""
    u = np.arange(count) / every
    knots = max(2, -(-(count - 1) // every) + 1)
    low = np.minimum(u.astype(int), knots - 2)
    matrix = np.zeros((count, knots))
    rows = np.arange(count)
    matrix[rows, low] = 1.0 - (u - low)
    matrix[rows, low + 1] = u - low
    return matrix
