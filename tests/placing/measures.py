"""How far a placement is from the truth, in canvas pixels."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.placing.records import Placement
from tests.placing.scenes import TrueScan

Array = NDArray[np.float64]


def lattice(scan: TrueScan, spacing: float = 16.0) -> Array:
    """Places all over a scan, (N, 2)."""
    x = np.arange(0.0, scan.width, spacing)
    y = np.arange(0.0, scan.height, spacing)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def doubling(scans: tuple[TrueScan, ...], placement: Placement, ppi: float) -> Array:
    """Distance, wherever two scans truly show one place, of where they are put."""
    found = []
    for i, one in enumerate(scans):
        for j, two in enumerate(scans):
            if i == j:
                continue
            points = lattice(one)
            there = two.pixels_of(one.places(points, ppi), ppi)
            ends = np.array([two.width, two.height]) - 1.0
            both = ((there >= 0) & (there <= ends)).all(axis=1)
            if both.any():
                gap = placement.canvas_from_scan(i, points[both])
                gap = gap - placement.canvas_from_scan(j, there[both])
                found.append(np.hypot(gap[:, 0], gap[:, 1]))
    return np.concatenate(found)


def departure(scans: tuple[TrueScan, ...], placement: Placement, ppi: float) -> Array:
    """Distance of all places from the true painting, after one best similarity."""
    put, true = [], []
    for k, scan in enumerate(scans):
        points = lattice(scan)
        put.append(placement.canvas_from_scan(k, points) @ np.array([1.0, 1.0j]))
        true.append(scan.places(points, ppi) @ np.array([1.0, 1.0j]))
    z, t = np.concatenate(true), np.concatenate(put)
    design = np.column_stack([z, np.ones_like(z)])
    fit = np.linalg.lstsq(design, t, rcond=None)[0]
    return np.asarray(np.abs(design @ fit - t))


def rms(values: Array) -> float:
    """Root of the mean square."""
    return float(np.sqrt((values**2).mean()))
