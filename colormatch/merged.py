"""What a merge found out about the joined picture, as records a report is made from."""

from __future__ import annotations

from dataclasses import dataclass

STEP = 0.1
"""Width of a step of `OverlapReport.counts_before`, ΔE2000."""
STEPS = 30
"""Steps before the last, open one."""


@dataclass(frozen=True, kw_only=True)
class GamutReport:
    """Colours the output space cannot hold."""

    space: str
    share: float
    largest: float | None


@dataclass(frozen=True, kw_only=True)
class OverlapReport:
    """Two tiles where both show the painting.

    Attributes
    ----------
    tiles : tuple of str
    before, after : float
        95th percentile of their difference, ΔE2000 over about 4 mm, before and
        after levelling, places left out as local differences not counted after.
    mean_before, mean_after : float
        Likewise, the mean.
    left_out : float
        Share of places left out as local differences (shadow, lifted, dust), 0 to 1.
    counts_before, counts_after : tuple of int
        Places per `STEP` of ΔE2000 from 0 on, the last also all above; in the
        second also those left out.
    placing_rms : float or None
        Pixels of the picture; None where nothing could be compared.
    """

    tiles: tuple[str, str]
    before: float
    after: float
    placing_rms: float | None
    mean_before: float = 0.0
    mean_after: float = 0.0
    left_out: float = 0.0
    counts_before: tuple[int, ...] = ()
    counts_after: tuple[int, ...] = ()


@dataclass(frozen=True, kw_only=True)
class SeamReport:
    """All borders between two tiles.

    Attributes
    ----------
    tiles : tuple of str
    length : float
        Millimetres.
    mean, p95, largest : float
        ΔE2000 of the two tiles along it.
    worst : tuple of float or None
        Where it is largest, millimetres from the picture's top left corner.
    blended : float
        Share of the length that is blended, 0 to 1; the rest is cut hard.
    """

    tiles: tuple[str, str]
    length: float
    mean: float
    p95: float
    blended: float
    largest: float | None = None
    worst: tuple[float, float] | None = None


@dataclass(frozen=True, kw_only=True)
class LevellingReport:
    """What levelling did to one tile, in percent of light.

    Attributes
    ----------
    tile : str
    tied_to : str
        ``"strip"``, ``"neighbours"`` or ``"nothing"``.
    change : tuple of float
        Per channel, mean over the tile: above 0 it was made lighter.
    least, most : float
        Of the change over the tile, mean of the channels.
    lamp, carriage, field, blank : float
        How much each part of the uneven light differs over the tile: along the
        lamp, along the carriage's way, smooth rest, as seen on the blank sheet.
    sigma : float
        Uncertainty of the tile's mean level, one sigma.
    """

    tile: str
    tied_to: str
    change: tuple[float, float, float]
    least: float
    most: float
    lamp: float
    carriage: float
    field: float
    blank: float
    sigma: float


@dataclass(frozen=True, kw_only=True)
class PlaceReport:
    """A place where tiles differ, and what was done about it.

    Attributes
    ----------
    kind : str
        ``"shadow"``, ``"unresolved"``, ``"edge"``, ``"softer"``, ``"lifted"`` or ``"region"``.
    tiles : tuple of str
        The avoided tile first.
    place : tuple of float
        Its middle, millimetres from the picture's top left corner.
    size : tuple of float
        Length and width, millimetres.
    depth : float
        Share of light missing (above 0) or too much; of softer and lifted places
        the blur, sigma in pixels.
    text : str
    """

    kind: str
    tiles: tuple[str, ...]
    place: tuple[float, float]
    size: tuple[float, float]
    depth: float
    text: str


@dataclass(frozen=True, kw_only=True)
class MergedReport:
    """The joined picture.

    Attributes
    ----------
    written : str
    width, height : int
        Pixels.
    ppi : float
    size : tuple of float
        Width and height, mm, by the scans' resolution, without the wrap.
    sheet : tuple of float or None
        As the user stated it.
    placing_rms, placing_largest : float
        Of the compared places, pixels.
    overlaps, seams : tuple
    shares : dict
        Part of the picture taken from each tile, 0 to 1.
    levels : dict
        Per tile, what its light is tied to and the uncertainty in percent.
    levelling : tuple of LevellingReport
        The same in figures.
    places : tuple of PlaceReport
        Where tiles differ, those named first.
    remarks : tuple of str
        Shadows and lifted places avoided, doubts, elements cut, assumptions.
    uncovered : float
        Share of the picture that no tile shows, left white.
    gamut : GamutReport
    """

    written: str
    width: int
    height: int
    ppi: float
    size: tuple[float, float]
    sheet: tuple[float, float] | None
    placing_rms: float
    placing_largest: float
    overlaps: tuple[OverlapReport, ...]
    seams: tuple[SeamReport, ...]
    shares: dict[str, float]
    levels: dict[str, str]
    remarks: tuple[str, ...]
    uncovered: float
    gamut: GamutReport
    levelling: tuple[LevellingReport, ...] = ()
    places: tuple[PlaceReport, ...] = ()
