"""The scanner's tone curve: from the numbers in the file to linear light."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.transfer import decode_srgb
from colormatch.model import FloatArray

BEND_KNOTS: tuple[float, ...] = (0.12, 0.28, 0.44, 0.6, 0.76, 0.92)
"""Encoded levels at which a curve may depart from its starting form.

They cover what printed neutrals reach on a flatbed; below the first and above
the last the departure stays what it is there, so that nothing bends away
where no patch was seen.
"""

LEAST_EXPONENT = 0.2
"""No scanner's curve is flatter; a fit to the wrong strip would else turn light round."""


@dataclass(frozen=True, kw_only=True, eq=False)
class ToneCurve:
    """``linear = base(encoded) ** exponent * exp(bend(encoded))``.

    Attributes
    ----------
    base : str
        ``"power"`` (the encoded value itself), ``"srgb"`` (IEC 61966-2-1) or
        ``"profile"`` (the curves of an embedded profile, in ``table``).
    exponent : float
        Power applied to the base; 1 leaves ``srgb`` and ``profile`` as they are.
    bend : ndarray of shape (len(BEND_KNOTS),)
        Natural logarithm of the departure at each of `BEND_KNOTS`.
    table : ndarray of shape (3, n) or None
        Linear values of n evenly spaced encoded values, per channel.
    """

    base: str = "power"
    exponent: float = 2.2
    bend: FloatArray
    table: FloatArray | None = None

    def linear(self, encoded: FloatArray, basis: FloatArray | None = None) -> FloatArray:
        """Decode values of shape (..., 3), 0 to 1, to linear light, 0 to about 1.

        ``basis`` is `bend_basis` of the same values, if it is at hand.
        """
        light: FloatArray = self.started(encoded) ** max(self.exponent, LEAST_EXPONENT)
        if np.any(self.bend):
            bent = bend_at(encoded, self.bend) if basis is None else basis @ self.bend
            light = light * np.exp(bent)
        return light

    def started(self, encoded: FloatArray) -> FloatArray:
        """Decode values (..., 3) by the base alone, to 0 and more."""
        return np.maximum(self._base(encoded), 0.0)

    def _base(self, encoded: FloatArray) -> FloatArray:
        if self.base == "srgb":
            return decode_srgb(encoded)
        if self.table is None:
            return encoded
        levels = np.linspace(0.0, 1.0, self.table.shape[1])
        channels = [np.interp(encoded[..., c], levels, self.table[c]) for c in range(3)]
        return np.stack(channels, axis=-1)

    def changed(self, exponent: float, bend: FloatArray) -> ToneCurve:
        """Return the same base with another power and bend."""
        return replace(self, exponent=exponent, bend=bend)


def straight() -> FloatArray:
    """Return the bend that changes nothing."""
    return np.zeros(len(BEND_KNOTS))


def starting_curves(table: FloatArray | None) -> tuple[ToneCurve, ...]:
    """List the forms a scanner's curve is tried from.

    Parameters
    ----------
    table : ndarray of shape (3, n) or None
        Curves of an embedded input profile, if there are any.
    """
    curves = [
        ToneCurve(base="power", exponent=2.2, bend=straight()),
        ToneCurve(base="srgb", exponent=1.0, bend=straight()),
    ]
    if table is not None:
        curves.insert(0, ToneCurve(base="profile", exponent=1.0, bend=straight(), table=table))
    return tuple(curves)


def bend_basis(encoded: FloatArray) -> FloatArray:
    """Natural cubic interpolation weights of each knot, shape (..., knots)."""
    return _cubic_weights(*_places(encoded), len(BEND_KNOTS))


def bend_at(encoded: FloatArray, bend: FloatArray) -> FloatArray:
    """Interpolate a bend at values of any shape: `bend_basis` times ``bend``, without the basis."""
    left, t = _places(encoded)
    curvature = _second_derivatives(len(bend)) @ bend / 6.0
    a = 1.0 - t
    straight = a * bend[left] + t * bend[left + 1]
    bent: FloatArray = straight + (a**3 - a) * curvature[left] + (t**3 - t) * curvature[left + 1]
    return bent


def _places(encoded: FloatArray) -> tuple[NDArray[np.int_], FloatArray]:
    """Give the knot to the left of each value, and how far beyond it the value lies, 0 to 1."""
    knots = np.asarray(BEND_KNOTS)
    inside = np.clip(np.asarray(encoded, dtype=float), knots[0], knots[-1])
    spans = len(knots) - 1
    step = (knots[-1] - knots[0]) / spans
    place = (inside - knots[0]) / step
    left = np.clip(place.astype(int), 0, spans - 1)
    return left, place - left


def _cubic_weights(left: NDArray[np.int_], t: FloatArray, knots: int) -> FloatArray:
    """Weights of values and of second derivatives."""
    eye = np.eye(knots)
    curvature = _second_derivatives(knots)
    a = 1.0 - t
    value = a[..., None] * eye[left] + t[..., None] * eye[left + 1]
    bent = (a**3 - a)[..., None] * curvature[left] + (t**3 - t)[..., None] * curvature[left + 1]
    weights: FloatArray = value + bent / 6.0
    return weights


@cache
def _second_derivatives(knots: int) -> FloatArray:
    """Second derivatives of the natural spline through each unit vector."""
    system = np.eye(knots)
    differences = np.zeros((knots, knots))
    for k in range(1, knots - 1):
        system[k, k - 1 : k + 2] = (1.0, 4.0, 1.0)
        differences[k, k - 1 : k + 2] = (6.0, -12.0, 6.0)
    solved: FloatArray = np.linalg.solve(system, differences)
    solved.flags.writeable = False
    return solved


@dataclass(frozen=True, kw_only=True, eq=False)
class Levels:
    """Encoded values whose light is wanted by many curves of one base.

    Attributes
    ----------
    started : ndarray of shape (N, 3)
        Decoded by the base alone.
    basis : ndarray of shape (N, 3, knots)
        Their `bend_basis`.
    """

    started: FloatArray
    basis: FloatArray

    @classmethod
    def of(cls, curve: ToneCurve, encoded: FloatArray) -> Levels:
        """Prepare values (N, 3), 0 to 1, for curves of ``curve``'s base."""
        return cls(started=curve.started(encoded), basis=bend_basis(encoded))

    def linear(self, curve: ToneCurve) -> FloatArray:
        """Give what `ToneCurve.linear` does for the values, (N, 3)."""
        return self._raised(curve.exponent, curve.bend)

    def slopes(self, curve: ToneCurve) -> tuple[FloatArray, FloatArray]:
        """Change of the light with the exponent, (N, 3), and with each bend, (N, 3, knots)."""
        light, step = self.linear(curve), 1e-5
        moved = self._raised(curve.exponent + step, curve.bend)
        return (moved - light) / step, light[..., None] * self.basis

    def _raised(self, exponent: float, bend: FloatArray) -> FloatArray:
        light: FloatArray = self.started ** max(exponent, LEAST_EXPONENT)
        return light * np.exp(self.basis @ bend) if np.any(bend) else light
