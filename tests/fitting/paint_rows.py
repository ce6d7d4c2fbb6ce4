"""Rows of ink and paint for tests: real spectra, or a truth that is known exactly.

Outside sources: as in `tests.fitting.spectral` (CIE 224 samples, CIE 15 lamps).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab
from colormatch.fitting.paints import Rows, expected_error, trusted
from colormatch.model import FloatArray
from tests.fitting import spectral

MATRIX = np.array([[0.45, 0.36, 0.17], [0.23, 0.72, 0.07], [0.02, 0.09, 0.72]])
WHITE = np.array([0.86, 0.83, 0.79])


def made_rows(
    ink: FloatArray, ink_xyz: FloatArray, paint: FloatArray, paint_xyz: FloatArray
) -> Rows:
    """Rows of light and colour; the first two inks are the paper."""
    xyz = np.concatenate([ink_xyz, paint_xyz])
    paper = np.arange(len(xyz)) < 2
    rows = Rows(
        ids=tuple(f"{i}" for i in range(len(xyz))),
        light=np.concatenate([ink, paint]),
        xyz=xyz,
        sigma=expected_error(xyz, np.full(len(xyz), 0.003), np.where(paper, 0.0, 0.8)),
        paint=np.arange(len(xyz)) >= len(ink),
        white=ink[:2].mean(axis=0),
        paper=paper,
        trust=np.ones(len(xyz)),
    )
    return replace(rows, trust=trusted(rows, plain_matrix(rows)))


def plain_matrix(rows: Rows) -> FloatArray:
    """Plain least squares on the inks: any 3x3 near the truth will do here."""
    ink = ~rows.paint
    solved = np.linalg.lstsq(rows.light[ink], rows.xyz[ink], rcond=None)[0]
    return np.asarray(solved.T)


def some_light(rng: np.random.Generator, count: int) -> FloatArray:
    """Light of many hues, WHITE twice first."""
    return np.concatenate([[WHITE, WHITE], 0.03 + 0.75 * rng.random((count - 2, 3)) ** 1.5])


def read(xyz: FloatArray, rng: np.random.Generator, noise: float = 0.17) -> FloatArray:
    """Measure colours with an error of so much in each of L*, a* and b*."""
    return np.maximum(xyz_from_lab(lab_from_xyz(xyz) + rng.normal(0, noise, xyz.shape)), 1e-5)


def bent(light: FloatArray) -> FloatArray:
    """Colours of light that no 3x3 gives: a root-polynomial that keeps WHITE."""
    r, g, b = np.sqrt(light / WHITE).T
    squares = np.stack([(r - g) ** 2, (g - b) ** 2, (r - b) ** 2], axis=1)
    factors = np.array([[0.10, -0.03, 0.02], [0.05, 0.02, -0.04], [-0.01, 0.08, 0.02]])
    return np.asarray(light @ MATRIX.T + squares @ factors.T)


def real(lamp: str, seed: int = 0) -> tuple[Rows, FloatArray, FloatArray]:
    """Rows from CIE samples under a CIE lamp; and light and colour of samples in neither."""
    rng = np.random.default_rng(seed)
    every = spectral.samples()
    greys = np.outer(np.geomspace(0.02, 0.9, 8), np.ones(every.shape[1]))
    ink = np.concatenate([greys[[-1]], greys[::-1], every[::3]])
    paint, other = every[1::3], every[2::3]
    sensor, observer = spectral.sensor(lamp), spectral.observer()
    rows = made_rows(
        ink @ sensor, read(ink @ observer, rng), paint @ sensor, read(paint @ observer, rng)
    )
    return rows, other @ sensor, other @ observer
