"""The scanner's tone curve: from the numbers in the file to linear light."""

from __future__ import annotations

from dataclasses import dataclass, replace

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
        start = np.clip(self._base(encoded), 0.0, None)
        light: FloatArray = start ** max(self.exponent, LEAST_EXPONENT)
        if np.any(self.bend):
            weights = bend_basis(encoded) if basis is None else basis
            light = light * np.exp(weights @ self.bend)
        return light

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
    knots = np.asarray(BEND_KNOTS)
    inside = np.clip(np.asarray(encoded, dtype=float), knots[0], knots[-1])
    spans = len(knots) - 1
    step = (knots[-1] - knots[0]) / spans
    place = (inside - knots[0]) / step
    left = np.clip(place.astype(int), 0, spans - 1)
    return _cubic_weights(left, place - left, len(knots))


def _cubic_weights(left: NDArray[np.int_], t: FloatArray, knots: int) -> FloatArray:
    """Weights of values and of second derivatives, the latter solved once."""
    eye = np.eye(knots)
    curvature = _second_derivatives(knots)
    a = 1.0 - t
    value = a[..., None] * eye[left] + t[..., None] * eye[left + 1]
    bent = (a**3 - a)[..., None] * curvature[left] + (t**3 - t)[..., None] * curvature[left + 1]
    weights: FloatArray = value + bent / 6.0
    return weights


def _second_derivatives(knots: int) -> FloatArray:
    """Second derivatives of the natural spline through each unit vector."""
    system = np.eye(knots)
    differences = np.zeros((knots, knots))
    for k in range(1, knots - 1):
        system[k, k - 1 : k + 2] = (1.0, 4.0, 1.0)
        differences[k, k - 1 : k + 2] = (6.0, -12.0, 6.0)
    solved: FloatArray = np.linalg.solve(system, differences)
    return solved


def curve_slopes(
    curve: ToneCurve, encoded: FloatArray, basis: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Change of the linear light of values (N, 3) with the exponent and with each bend.

    Returns
    -------
    ndarray of shape (N, 3)
    ndarray of shape (N, 3, knots)
    """
    light, step = curve.linear(encoded, basis), 1e-5
    moved = curve.changed(curve.exponent + step, curve.bend).linear(encoded, basis)
    return (moved - light) / step, light[..., None] * basis
