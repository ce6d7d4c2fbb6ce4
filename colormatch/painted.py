"""What the painter's own paints changed, as records; no arithmetic."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Spread:
    """CIEDE2000 over some patches."""

    mean: float
    p95: float
    largest: float


@dataclass(frozen=True, kw_only=True)
class PaintReport:
    """One paint: Lab as measured and as scanned and mapped, CIEDE2000 in and out of the fit."""

    id: str
    wanted: tuple[float, float, float]
    scanned: tuple[float, float, float]
    fitted: float
    left_out: float


@dataclass(frozen=True, kw_only=True)
class MapReport:
    """How far one map from light to colour is off, CIEDE2000.

    Attributes
    ----------
    model : str
    ink, ink_left_out, paint, paint_left_out : Spread
        On the strip's patches and on the paints, in the fit and each left out of it.
    strip_weight, tie : float
        What an ink counted against a paint, and how firmly a root-polynomial was held
        to the 3x3; 0 where there was nothing to choose.
    """

    model: str
    ink: Spread
    ink_left_out: Spread
    paint: Spread
    paint_left_out: Spread
    strip_weight: float
    tie: float


@dataclass(frozen=True, kw_only=True)
class SwatchReport:
    """The painter's own paints, and what they changed.

    Attributes
    ----------
    scan, reference, sheet : str
        The files, and which sheet it is.
    paints : int
        How many were used.
    left_out, doubts : tuple of str
        Boxes that took no part and why; paints that contradict the others.
    tiles : tuple of str
        The scans whose colour the chosen map makes.
    model, why : str
        The map in use, and why it and not another, in words.
    gain, cover : float or None
        Part of the left-out error on paint that the root-polynomial takes off, and part
        of the picture's hues that the paints cover, 0 to 1.
    maps : tuple of MapReport
        Every map that could be fitted.
    matrix : tuple of tuples
        ``xyz_from_rgb`` of the 3x3 in use; of a root-polynomial, of that outside the paints.
    terms, coefficients : tuple
        The root-polynomial's terms of linear red, green and blue, and its factors, one
        row each for X, Y, Z; empty for a 3x3.
    patches : tuple of PaintReport
        The paints that were used.
    remarks : tuple of str
        What was noticed in the scan of the sheet, and what to do about it.
    """

    scan: str
    reference: str
    sheet: str
    paints: int
    left_out: tuple[str, ...]
    doubts: tuple[str, ...]
    tiles: tuple[str, ...]
    model: str
    why: str
    gain: float | None
    cover: float | None
    maps: tuple[MapReport, ...]
    matrix: tuple[tuple[float, ...], ...]
    terms: tuple[str, ...]
    coefficients: tuple[tuple[float, ...], ...]
    patches: tuple[PaintReport, ...]
    remarks: tuple[str, ...]

    @property
    def chosen(self) -> MapReport:
        """The map in use."""
        return next(one for one in self.maps if one.model == self.model)
