"""One placement of all tiles from all that was measured between them.

Robust least squares (iteratively reweighted; P. Huber, "Robust Statistics",
1981, then J. Tukey's biweight) on the linearised poses. What overlaps cannot
tell, such as a swing of the carriage that no second tile has seen, is held
near zero by priors with physical widths.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray
from colormatch.placing.normal import Factor
from colormatch.placing.poses import Pose
from colormatch.placing.slopes import Observation, Sighting, Slopes, linearised
from colormatch.placing.unknowns import Places, Unknowns

SHIFT_SPREAD, TURN_SPREAD = 5.0, 3.0
"""Millimetres and degrees about the start, one sigma: only an unmeasured tile feels it."""
SCALE_SPREAD = 2e-4
"""Scale of one scan against another's: the lens is the same."""
STRETCH_SPREAD = 5e-4
"""Carriage scale: up to 0.1 %."""
LENS_SPREAD = 0.05
"""Lens polynomial, mm at the lamp's end."""
SWING_SPREAD = 0.06
"""Carriage spline per knot and its second difference, mm; 0.03 to 0.05 seen."""
HELD = 1e-7
"""Spread that fixes the first tile's shift (mm) and turn (radians)."""
ROUNDS = 11
HUBER_ROUNDS = 5
BENDINGS = (0.003, 0.01, 0.03, 0.1, 0.3, 1.0)
"""Factors tried on the spreads of all that bends a scan."""
HUBER, BIWEIGHT = 2.0, 6.0
"""Where the weights begin to fall and where they reach zero, robust sigmas."""
LEFT_OUT = 0.1
"""Robust weight below which a place counts as a mistake."""
MEDIAN_OF_SQUARES = 1.386
"""Median of chi-squared with two degrees of freedom."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Solution:
    """Poses, and how well the observations agree.

    Attributes
    ----------
    poses : tuple of Pose
    gaps : tuple of ndarray (K, 2)
        Per observation, first minus second on the painting, mm.
    weights : tuple of ndarray (K,)
        Robust weight per place, 0 (left out) to 1.
    chi_square : float
        Of the places not left out, per degree of freedom; 1 if the errors are as predicted.
    covariance : ndarray
        Of all unknowns, scaled by ``chi_square`` where that exceeds 1.
    """

    poses: tuple[Pose, ...]
    gaps: tuple[FloatArray, ...]
    weights: tuple[FloatArray, ...]
    chi_square: float
    covariance: FloatArray


@dataclass(frozen=True, kw_only=True, eq=False)
class Network:
    """What is to be solved.

    Attributes
    ----------
    observations : tuple of Observation
        At least one block each.
    scales : ndarray of shape (number of tiles,)
        The scale expected of each tile, 1 where its ppi is believed.
    held : int
        The tile that does not move.
    """

    observations: tuple[Observation, ...]
    scales: FloatArray
    held: int = 0


@dataclass(frozen=True, kw_only=True, eq=False)
class _State:
    """Where the poses stand."""

    poses: tuple[Pose, ...]
    gaps: tuple[FloatArray, ...]
    weights: tuple[FloatArray, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class _Normal:
    """Normal equations of a round, factored."""

    prior: FloatArray
    slopes: Slopes
    factor: Factor

    @classmethod
    def of(cls, slopes: Slopes, prior: FloatArray) -> _Normal:
        return cls(prior=prior, slopes=slopes, factor=Factor(slopes.normal + prior))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Rounded(_State):
    """State after some rounds, and the equations of the last."""

    normal: _Normal


@dataclass(frozen=True, kw_only=True, eq=False)
class _Problem:
    """Network with all that stays the same while its poses are adjusted."""

    network: Network
    unknowns: Unknowns
    sightings: tuple[Sighting, ...]
    firmness: tuple[FloatArray, FloatArray]

    @classmethod
    def of(cls, network: Network, poses: tuple[Pose, ...]) -> _Problem:
        unknowns = Unknowns(poses)
        return cls(
            network=network,
            unknowns=unknowns,
            sightings=tuple(Sighting.of(poses, o) for o in network.observations),
            firmness=_firmness(unknowns, poses, network.held),
        )

    def prior(self, bending: float) -> FloatArray:
        """Inverse covariance with a factor on the spreads of all that bends a scan."""
        where, bends = self.firmness
        return where + bends / bending**2

    def gaps(self, poses: tuple[Pose, ...]) -> tuple[FloatArray, ...]:
        return tuple(sighting.gap(poses) for sighting in self.sightings)

    def slopes(self, poses: tuple[Pose, ...], weights: tuple[FloatArray, ...]) -> Slopes:
        return linearised(self.unknowns, poses, self.sightings, weights)


def _rounded(problem: _Problem, state: _State, normal: _Normal) -> _Rounded:
    """One Gauss-Newton round, by the equations of poses that lie near."""
    unknowns = problem.unknowns
    right = normal.slopes.right(state.gaps)
    right -= normal.prior @ _departure(unknowns, state.poses, np.log(problem.network.scales))
    step = normal.factor.solve(right)
    poses = tuple(unknowns.stepped(k, pose, step) for k, pose in enumerate(state.poses))
    return _Rounded(poses=poses, gaps=problem.gaps(poses), weights=state.weights, normal=normal)


def _loose(problem: _Problem, poses: tuple[Pose, ...]) -> _Rounded:
    """Find the robust weights, the scans free to bend in the end.

    While the gaps are large the scans are kept as stiff as such gaps allow,
    or mistakes among the places would bend them first.
    """
    o = problem.network.observations
    weights: tuple[FloatArray, ...] = tuple(np.ones(len(one.ours)) for one in o)
    state = _State(poses=poses, gaps=problem.gaps(poses), weights=weights)
    scale = _scale(_distances(o, state.gaps))
    for turn in range(ROUNDS):
        prior = problem.prior(1.0 / np.sqrt(scale))
        slopes = problem.slopes(state.poses, state.weights)
        rounded = _rounded(problem, state, _Normal.of(slopes, prior))
        squares = _distances(o, rounded.gaps)
        scale = _scale(squares)
        weights = _reweighted(squares / scale, rounded.gaps, huber=turn < HUBER_ROUNDS)
        state = rounded = replace(rounded, weights=weights)
    return rounded


def _evidence(problem: _Problem, state: _Rounded, error: float) -> float:
    """Log probability of the observations under the prior, up to a constant."""
    network = problem.network
    away = _departure(problem.unknowns, state.poses, np.log(network.scales))
    weight = np.concatenate(state.weights)
    squares = float((weight * _distances(network.observations, state.gaps)).sum())
    squares += float(away @ state.normal.prior @ away)
    volume = Factor(state.normal.prior).log_determinant() - state.normal.factor.log_determinant()
    return 0.5 * (volume - squares / error)


def _solution(network: Network, state: _Rounded) -> Solution:
    """State with its figures."""
    inverse = state.normal.factor.inverse()
    spent = len(inverse) - float((inverse * state.normal.prior).sum())
    chi = _chi_square(network.observations, state.gaps, state.weights, spent)
    return Solution(
        poses=state.poses,
        gaps=state.gaps,
        weights=state.weights,
        chi_square=chi,
        covariance=inverse * max(1.0, chi),
    )


def solved(network: Network, poses: tuple[Pose, ...]) -> Solution:
    """Adjust all poses so that shared places coincide.

    Among priors from stiff to loose the one is taken under which the
    observations are most probable (D. MacKay, Neural Computation 4, 415,
    1992): a carriage that does not swing is not given a swing by noise.

    Parameters
    ----------
    network : Network
    poses : tuple of Pose
        Starts, good to a millimetre.
    """
    if not network.observations:
        return Solution(
            poses=poses, gaps=(), weights=(), chi_square=0.0, covariance=np.zeros((0, 0))
        )
    problem = _Problem.of(network, poses)
    loose = _loose(problem, poses)
    error = max(1.0, _solution(network, loose).chi_square)
    best, most = loose, -np.inf
    slopes = problem.slopes(loose.poses, loose.weights)
    for bending in BENDINGS:
        prior = error * problem.prior(bending)
        normal = _Normal.of(slopes, prior)
        state = _rounded(problem, _rounded(problem, loose, normal), normal)
        evidence = _evidence(problem, state, error)
        if evidence > most:
            best, most = state, evidence
    return _solution(network, best)


def _firmness(
    unknowns: Unknowns, poses: tuple[Pose, ...], held: int
) -> tuple[FloatArray, FloatArray]:
    """Inverse covariance of the unknowns before anything is measured, in two parts.

    The second is of all that bends a scan: it falls with the square of the factor on the
    spreads.
    """
    where, bends = np.zeros((2, unknowns.count, unknowns.count))
    for k, pose in enumerate(poses):
        first = int(unknowns.starts[k])
        spreads = np.array([SHIFT_SPREAD] * 2 + [np.radians(TURN_SPREAD)])
        if k == held:
            spreads = np.full(3, HELD)
        where[range(first, first + 3), range(first, first + 3)] = spreads**-2.0
        bent = np.array([SCALE_SPREAD, STRETCH_SPREAD])
        bends[range(first + 3, first + 5), range(first + 3, first + 5)] = bent**-2.0
        curved = np.diff(np.eye(pose.knots.count), 2, axis=0)
        swing = (np.eye(pose.knots.count) + curved.T @ curved) / SWING_SPREAD**2
        for way in (0, 1):
            columns = slice(first + 5 + way, first + 5 + 2 * pose.knots.count, 2)
            bends[columns, columns] = swing
    lens = np.arange(unknowns.lens, unknowns.count)
    bends[lens, lens] = LENS_SPREAD**-2.0
    return where, bends


def _departure(unknowns: Unknowns, poses: tuple[Pose, ...], expected: FloatArray) -> FloatArray:
    """Where the unknowns stand against the middle of their priors."""
    parts = []
    for k, pose in enumerate(poses):
        own = unknowns.values(pose)
        own[3] -= expected[k]
        parts.append(own)
    return np.concatenate([*parts, poses[0].lens])


def _distances(observations: tuple[Observation, ...], gaps: tuple[FloatArray, ...]) -> FloatArray:
    """Squared gap in predicted sigmas, all observations in a row."""
    return np.concatenate(
        [
            np.einsum("ki,kij,kj->k", gap, o.information, gap)
            for o, gap in zip(observations, gaps, strict=True)
        ]
    )


def _scale(squares: FloatArray) -> float:
    """How many times the predicted variance the gaps have, at least 1, robustly."""
    return max(1.0, float(np.median(squares)) / MEDIAN_OF_SQUARES)


def _reweighted(
    squares: FloatArray, gaps: tuple[FloatArray, ...], *, huber: bool
) -> tuple[FloatArray, ...]:
    """Robust weights from squared gaps in robust sigmas."""
    far = np.sqrt(squares)
    if huber:
        weight = np.minimum(1.0, HUBER / np.maximum(far, 1e-12))
    else:
        weight = np.maximum(1.0 - (far / BIWEIGHT) ** 2, 0.0) ** 2
    ends = np.cumsum([len(gap) for gap in gaps])[:-1]
    return tuple(np.split(weight, ends))


def _chi_square(
    observations: tuple[Observation, ...],
    gaps: tuple[FloatArray, ...],
    weights: tuple[FloatArray, ...],
    spent: float,
) -> float:
    """Squares per degree of freedom; ``spent`` freedoms went into the poses."""
    counted = np.concatenate(weights) > LEFT_OUT
    seen = sum(
        int((np.linalg.eigvalsh(o.information) > 0).sum(axis=1)[w > LEFT_OUT].sum())
        for o, w in zip(observations, weights, strict=True)
    )
    squares = float(_distances(observations, gaps)[counted].sum())
    return squares / max(seen - spent, 1.0)


def relative_spread(
    solution: Solution, first: int, second: int, points: FloatArray
) -> NDArray[np.float64]:
    """Predicted error of the second tile against the first, one sigma, mm, (N,).

    Parameters
    ----------
    solution : Solution
    first, second : int
        Which tiles.
    points : ndarray of shape (N, 2)
        Scan pixels of the first tile.
    """
    poses = solution.poses
    there = poses[second].scan_from_painting(poses[first].painting_from_scan(points))
    places = Places.of(poses[first], points), Places.of(poses[second], there)
    both = poses[first], poses[second]
    spans, rows = Unknowns(poses).gap_slopes((first, second), both, places)
    used = np.r_[spans]
    covariance = solution.covariance[np.ix_(used, used)]
    flat = rows.reshape(-1, len(used))
    variance = np.einsum("np,np->n", flat @ covariance, flat).reshape(-1, 2)
    return np.asarray(np.sqrt(np.maximum(variance, 0.0).max(axis=1)))
