"""What the job found out, as records a report is made from; no arithmetic."""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum

from colormatch.merged import GamutReport, MergedReport
from colormatch.painted import Spread as Spread
from colormatch.painted import SwatchReport
from colormatch.standards.tolerances import Outcome
from colormatch.views import Views


class Advice(StrEnum):
    """What to do with a tile."""

    USE = "use it"
    CARE = "use it with care"
    RESCAN = "scan again"


class Kind(StrEnum):
    """What a finding is about, for programs and for drawing; one name for ever."""

    STRIP_MISSING = "strip-missing"
    STRIP_COVERED = "strip-covered"
    STRIP_BENT = "strip-bent"
    STRIP_OTHER_SHEET = "strip-other-sheet"
    CLIPPED = "clipped"
    BLOCKED = "blocked"
    OTHER_EXPOSURE = "other-exposure"
    OTHER_CURVE = "other-curve"
    OTHER_SETTINGS = "other-settings"
    LOW_DEPTH = "low-depth"
    LOSSY = "lossy"
    SHARPENED = "sharpened"
    SCALE = "scale"
    NOISE = "noise"
    STREAKS = "streaks"
    BANDING = "banding"
    WARM_UP = "warm-up"
    OFF_GLASS = "off-glass"
    EDGE_SHADOW = "edge-shadow"
    GLARE = "glare"
    DUST = "dust"
    TURNED = "turned"
    LITTLE_OVERLAP = "little-overlap"
    FALL_OFF = "fall-off"
    NARROW_LAMP = "narrow-lamp"
    SCATTERED_LIGHT = "scattered-light"
    OLD_REFERENCE = "old-reference"
    NOMINAL_REFERENCE = "nominal-reference"
    TOLERANCE = "tolerance"


Box = tuple[float, float, float, float]
"""x, y, width, height in millimetres from the scan's top left corner."""


@dataclass(frozen=True, kw_only=True)
class Finding:
    """Something noticed in one tile, in words for the person at the scanner.

    Attributes
    ----------
    kind : Kind
    advice : Advice
    text, next_step : str
        What is wrong, and what to do at the scanner.
    measure, limit : float or None
        What was measured, and where the finding begins; None where nothing was counted.
    unit : str
        Of both.
    places : tuple of Box
        Where in the scan; empty if everywhere or nowhere in particular.
    hint : bool
        Whether one scan alone cannot prove it.
    """

    kind: Kind
    advice: Advice
    text: str
    next_step: str
    measure: float | None = None
    unit: str = ""
    limit: float | None = None
    places: tuple[Box, ...] = ()
    hint: bool = False


@dataclass(frozen=True, kw_only=True)
class PatchReading:
    """Red, green, blue of a patch, each 0 to about 1.

    Attributes
    ----------
    encoded : tuple of float
        As in the file.
    linear : tuple of float
        The same by the tone curve that was found.
    light : tuple of float
        Of that, without scattered light and evened along the strip, still in the
        scanner's own scale.
    """

    encoded: tuple[float, float, float]
    linear: tuple[float, float, float]
    light: tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class PatchReport:
    """One patch of one strip: Lab as wanted and as scanned and corrected.

    ``reading`` is what that was made from; None if the patch was not used.
    """

    id: str
    wanted: tuple[float, float, float]
    scanned: tuple[float, float, float] | None
    fitted: float | None
    left_out: float | None
    note: str = ""
    reading: PatchReading | None = None


@dataclass(frozen=True, kw_only=True)
class StripReport:
    """Where a strip lies in a scan; millimetres from the scan's top left corner.

    ``serial`` is the sheet's, empty if not read; ``symbol`` says how its symbol was
    met, as in `StripReading`.
    """

    layout: str
    x: float
    y: float
    turn: float
    marks_seen: int
    marks: int
    residual_px: float
    ppi: tuple[float, float]
    patches_used: int
    patches: int
    serial: str = ""
    symbol: str = "not printed"


@dataclass(frozen=True, kw_only=True)
class ColourReport:
    """One tile's colour.

    Attributes
    ----------
    fitted, left_out, own : Spread
        On the patches that were fitted, on each patch left out of the fit, and
        with this tile's own matrix.
    gains : tuple of float
        Light per channel relative to the first tile of the same settings, 1 = same.
    fall_off : tuple of float
        Light at the strip's left and right end, percent of that at its middle.
    scattered : float
        Percent of the surrounding light that reached each place and was removed.
    scattered_by_reach : dict
        The same per reach in millimetres.
    scattered_dark : float
        Percent of their light that the scan's darkest hundredth lost by it.
    curve : dict
        Share of each form of tone curve.
    matrix, own_matrix : tuple of tuples
        ``xyz_from_rgb``, shared and this tile's own.
    departure, departure_noise : float
        Mean CIEDE2000 between the two, and what noise explains of it.
    """

    fitted: Spread
    left_out: Spread
    own: Spread
    gains: tuple[float, float, float]
    fall_off: tuple[float, float]
    scattered: float
    scattered_by_reach: dict[str, float]
    scattered_dark: float
    curve: dict[str, float]
    matrix: tuple[tuple[float, ...], ...]
    own_matrix: tuple[tuple[float, ...], ...]
    departure: float
    departure_noise: float


@dataclass(frozen=True, kw_only=True)
class TileReport:
    """Everything about one tile."""

    scan: str
    width: int
    height: int
    bits: int
    format: str
    ppi: tuple[float, float] | None
    advice: Advice
    strips: tuple[StripReport, ...] = ()
    colour: ColourReport | None = None
    patches: tuple[PatchReport, ...] = ()
    findings: tuple[Finding, ...] = ()
    assumed: tuple[str, ...] = ()
    outcome: Outcome | None = None
    error: str | None = None
    gamut: GamutReport | None = None
    written: str | None = None
    device: str = ""


@dataclass(frozen=True, kw_only=True)
class TransferReport:
    """Values carried over from a known sheet to a strip beside it; all ΔE2000.

    Attributes
    ----------
    written : str
        The file of values.
    sheet, source : str
        Whose values they are, and where they came from, in words.
    scans : int
    patches : int
    uncertainty : Spread
        Over the patches, for ink of the known sheet's kind.
    least_certain : str
        The patch with the largest.
    other_ink : float
        Mean to be expected with another kind of ink.
    between_scans : float or None
        Standard deviation of a single scan, mean over the patches; None for one.
    outliers, assumed : tuple of str
    """

    written: str
    sheet: str
    source: str
    scans: int
    patches: int
    uncertainty: Spread
    least_certain: str
    other_ink: float
    between_scans: float | None
    outliers: tuple[str, ...] = ()
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class JobReport:
    """What one command found over all its tiles.

    ``reference_kind`` is ``"measured"``, ``"carried over"`` or ``"nominal"``, of
    several the least trusted; ``reference_uncertainty`` is ΔE2000, mean over the
    patches, None if the file states none. ``agreement`` is the mean CIEDE2000
    between tiles over the patches they share, after matching; None for a single tile.
    ``groups`` names the scans
    that share one tone curve. ``views`` is for the page alone and no part of
    the figures.
    """

    command: str
    reference: str
    reference_kind: str
    reference_uncertainty: float | None = None
    reference_facts: dict[str, str] = field(default_factory=dict)
    tolerance: str = ""
    tiles: tuple[TileReport, ...] = ()
    groups: tuple[tuple[str, ...], ...] = ()
    agreement: float | None = None
    merged: MergedReport | None = None
    swatches: SwatchReport | None = None
    assumed: tuple[str, ...] = ()
    history: tuple[str, ...] = ()
    views: Views = field(default_factory=Views, compare=False, repr=False)

    @property
    def failed(self) -> bool:
        """Whether any input could not be processed."""
        return any(tile.error for tile in self.tiles)

    @property
    def within(self) -> bool:
        """Whether every tile that could be measured reached the tolerance."""
        return all(tile.outcome is None or tile.outcome.level is not None for tile in self.tiles)
