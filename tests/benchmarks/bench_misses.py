"""What three channels miss on ink: ``python -m tests.benchmarks.bench_misses [SCANNERS]``.

Makes up scanners and printers, none of them the demo's: lamps of CIE 15:2018 (from
colour-science) or a blue LED with phosphors, filters that are steps and bells, four inks of
usual hues and strengths on paper of usual tints. Each printer matches the long strip's
colours; each scanner gets the matrix that is best for paint: half of the CIE 224:2017
samples and as much grey. From what this matrix misses on the prints follows the constant
``ALWAYS`` of `fitting.misses` that makes it likeliest for the ``MISSED`` there; only their
ratio matters, as each job has its own scale.

Then, on scanners and samples that had no part in it: mean ΔE2000 of samples and of greys,
all patches trusted alike, and as `fitting.misses` trusts them. Ranges of filters and inks
are guesses, no source.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from itertools import product

import numpy as np
from scipy.optimize import minimize

from colormatch.colour.difference import metric_roots
from colormatch.colour.science import colour_science
from colormatch.files.layouts import shipped_reference
from colormatch.fitting.judging import difference
from colormatch.fitting.matrix import solve_matrix
from colormatch.fitting.misses import ALWAYS, MISSED, miss_covariance, whitening
from colormatch.model import FloatArray
from demo.inks import driver, print_spectra
from demo.spectra import (
    FINE,
    GRID,
    grid_from_fine,
    observer_weights,
    peak,
    rise,
    xyz_from_spectra,
)

OTHER_LAMPS = ("A", "C", "D50", "D65")
GREYS = np.outer(np.linspace(0.05, 0.9, 8), np.ones(len(GRID)))
LAYERS = np.array(list(product((0.0, 1.0), repeat=4)))
Rng = np.random.Generator


def samples() -> FloatArray:
    """Reflectances (99, 36) of the CIE 224 samples, shuffled."""
    colour = colour_science()
    spectra = colour.quality.cfi2017.load_TCS_CIE2017(colour.SpectralShape(380, 780, 5))
    values = spectra.copy().align(colour.SpectralShape(GRID[0], GRID[-1], 10)).values.T
    return np.asarray(values[np.random.default_rng(0).permutation(len(values))])


def lamp(rng: Rng) -> FloatArray:
    """Relative power (351,) of a lamp."""
    colour = colour_science()
    names = [n for n in colour.SDS_ILLUMINANTS if n.startswith(("LED", "FL"))]
    if rng.random() < 0.25:
        blue = rng.uniform(0.5, 1.2) * peak(FINE, rng.uniform(440, 462), rng.uniform(16, 32))
        green = rng.uniform(0.4, 0.8) * peak(FINE, rng.uniform(530, 560), rng.uniform(90, 130))
        red = rng.uniform(0.3, 0.8) * peak(FINE, rng.uniform(590, 630), 105)
        return np.asarray(blue + green + red)
    name = str(rng.choice([*names, *OTHER_LAMPS * 5]))
    shape = colour.SpectralShape(FINE[0], FINE[-1], 1)
    return np.asarray(np.clip(colour.SDS_ILLUMINANTS[name].copy().align(shape).values, 0, None))


def scanner(rng: Rng) -> FloatArray:
    """Weights (3, 36) to linear RGB, white giving 1."""
    red = rise(FINE, rng.uniform(560, 608), rng.uniform(18, 55))
    red = red + rng.uniform(0, 0.08) * peak(FINE, 445, 60)
    green = peak(FINE, rng.uniform(525, 545), rng.uniform(55, 110))
    blue = peak(FINE, rng.uniform(445, 468), rng.uniform(50, 90))
    barrier = rise(-FINE, -rng.uniform(650, 690), 40)
    weights = grid_from_fine(np.stack([red, green, blue]) * barrier * lamp(rng))
    return np.asarray(weights / weights.sum(axis=1, keepdims=True))


class Press:
    """A printer that never was: Yule-Nielsen halftones of four inks on paper."""

    def __init__(self, rng: Rng) -> None:
        nm = [GRID - rng.normal(0, 7) for _ in range(3)]
        cyan = rng.uniform(1.0, 1.5) * peak(nm[0], 630, 120 * rng.uniform(0.85, 1.2))
        cyan += rng.uniform(0.1, 0.7) * peak(nm[0], 675, 60)
        cyan += rng.uniform(0.15, 0.45) * peak(nm[0], 565, 100) + 0.1 * peak(nm[0], 390, 60)
        magenta = rng.uniform(0.9, 1.4) * peak(nm[1], rng.uniform(545, 572), 65)
        magenta += rng.uniform(0.4, 1.0) * peak(nm[1], rng.uniform(512, 532), 65)
        magenta += rng.uniform(0.15, 0.4) * peak(nm[1], 405, 90)
        yellow = rng.uniform(1.0, 1.5) * rise(-nm[2], -487, 40 * rng.uniform(0.85, 1.2)) + 0.03
        black = rng.uniform(1.3, 1.7) * (1 + rng.uniform(-0.08, 0.05) * rise(GRID, 620, 160))
        density = LAYERS @ np.stack([cyan + 0.02, magenta + 0.02, yellow, black])
        trapping = 1 - 0.07 * np.clip(LAYERS.sum(axis=1, keepdims=True) - 1, 0, None)
        paper = rng.uniform(0.88, 0.95) - rng.uniform(0, 0.09) * rise(-GRID, -430, 60)
        sheen, self.spread = rng.uniform(0.008, 0.016), rng.uniform(1.6, 2.6)
        self.full = sheen + (paper - sheen) * 10.0 ** -(trapping * density)
        self.replaced = rng.uniform(0.3, 1.0)

    def spectra(self, ink: FloatArray) -> FloatArray:
        """Reflectances (N, 36) of cyan, magenta and yellow (N, 3), part of it as black."""
        grey = ink.min(axis=-1, keepdims=True)
        black = np.clip(grey - 0.25, 0, None) / 0.75
        dots = np.concatenate([ink - self.replaced * black * grey, black**1.3], axis=-1)
        share = np.where(LAYERS == 1, dots[:, None], 1 - dots[:, None]).prod(axis=-1)
        return np.asarray((share @ self.full ** (1 / self.spread)) ** self.spread)

    def matching(self, xyz: FloatArray, steps: int = 25) -> FloatArray:
        """Reflectances (N, 36) that come nearest to colours, by damped Gauss-Newton."""
        ink = np.clip(1 - np.cbrt(xyz), 0.02, 0.98)
        for _ in range(steps):
            here = self._roots(ink)
            slopes = [(self._roots(ink + 1e-4 * one) - here) / 1e-4 for one in np.eye(3)]
            slope = np.stack(slopes, axis=-1)
            turned = np.swapaxes(slope, 1, 2)
            right = turned @ (np.cbrt(xyz) - here)[..., None]
            move = np.linalg.solve(turned @ slope + 1e-4 * np.eye(3), right)[..., 0]
            ink = np.clip(ink + np.clip(move, -0.2, 0.2), 0, 1)
        return self.spectra(ink)

    def _roots(self, ink: FloatArray) -> FloatArray:
        return np.cbrt(xyz_from_spectra(self.spectra(ink)))


def pairs(count: int, first: int) -> Iterator[tuple[FloatArray, FloatArray]]:
    """Give prints (65, 36) and the weights (3, 36) of the scanner that reads them."""
    wanted = xyz_from_spectra(print_spectra(driver(shipped_reference("strip-long").xyz)))
    for number in range(first, first + count):
        rng = np.random.default_rng(number)
        yield Press(rng).matching(wanted), scanner(rng)


def best_for_paint(weights: FloatArray, paints: FloatArray) -> FloatArray:
    """Give the matrix of samples and as much grey."""
    spectra = np.concatenate([paints, GREYS])
    xyz = xyz_from_spectra(spectra)
    share = np.r_[np.ones(len(paints)), np.full(len(GREYS), len(paints) / len(GREYS))]
    return solve_matrix(spectra @ weights.T, xyz, metric_roots(xyz) * np.sqrt(share)[:, None, None])


def likeliest(count: int, paints: FloatArray) -> float:
    """Give the constant ``ALWAYS`` for the ``MISSED`` in use."""
    missed, by_ink = [], []
    for prints, weights in pairs(count, 0):
        xyz = xyz_from_spectra(prints)
        seen = prints @ weights.T @ best_for_paint(weights, paints).T
        roots = metric_roots(xyz)
        missed.append(np.einsum("nij,nj->ni", roots, seen - xyz))
        eye = np.eye(3)
        covariance = miss_covariance(xyz, greys_of(xyz), roots) - ALWAYS**2 * eye
        by_ink.append(covariance / MISSED**2)
    errors, shapes = np.concatenate(missed), np.concatenate(by_ink)

    def unlikely(logs: FloatArray) -> float:
        ink, always = np.exp(2 * logs)
        covariance = ink * shapes + always * np.eye(3)
        white = np.einsum("nij,nj->ni", whitening(covariance), errors)
        return float((white**2).sum() + np.linalg.slogdet(covariance)[1].sum()) / len(errors)

    found = np.exp(minimize(unlikely, np.log([0.04, 0.9]), method="Nelder-Mead").x)
    return float(found[1] * MISSED / found[0])


def greys_of(xyz: FloatArray) -> np.ndarray:
    """Which patches are greys: all may be, for only the lightest is asked for."""
    return np.ones(len(xyz), dtype=bool)


def errors_on_paint(count: int, paints: FloatArray) -> FloatArray:
    """Mean ΔE2000 of samples and greys (columns), trusted alike and not (rows)."""
    found = []
    for prints, weights in pairs(count, 50_000):
        xyz, light = xyz_from_spectra(prints), prints @ weights.T
        roots = metric_roots(xyz)
        uneven = whitening(miss_covariance(xyz, greys_of(xyz), roots)) @ roots
        matrices = (solve_matrix(light, xyz, r) for r in (roots, uneven))
        found.append(
            [[mean_error(m, weights, spectra) for spectra in (paints, GREYS)] for m in matrices]
        )
    return np.asarray(np.mean(found, axis=0))


def mean_error(matrix: FloatArray, weights: FloatArray, spectra: FloatArray) -> float:
    xyz = spectra @ observer_weights().T
    return float(difference(spectra @ weights.T @ matrix.T, xyz).mean())


def main() -> None:
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 150
    paints = samples()
    always = likeliest(count, paints[::2])
    alike, uneven = errors_on_paint(count, paints[1::2])
    sys.stdout.write(
        f"likeliest: ALWAYS {always:.2f} (in use: {ALWAYS})\n"
        f"all patches trusted alike: samples {alike[0]:.2f}, greys {alike[1]:.2f} ΔE2000 mean\n"
        f"as fitting.misses does:    samples {uneven[0]:.2f}, greys {uneven[1]:.2f} ΔE2000 mean\n"
    )


if __name__ == "__main__":
    main()
