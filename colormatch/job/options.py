"""What a user may ask of a job."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path


@dataclass(frozen=True, kw_only=True)
class CheckOptions:
    """Options every job shares.

    Attributes
    ----------
    reference : Path, tuple of Path or None
        Values of the strip, several files averaged; None: the nominal ones that ship.
    references : Path or None
        Folder from which each strip's values are picked by its serial.
    any_sheet : bool
        Whether values of a sheet with another serial are taken too.
    layout : Path or None
        The target's design, a file or the name of one that ships; None: any strip
        that ships.
    corners : tuple of str
        Where a chart lies, for scans in which it is not found: see `given_corners`.
    swatches : Path or None
        Scan of the painter's own paints with a strip beside them.
    swatch_reference : Path or None
        Measured values of those paints.
    swatch_layout : Path or None
        Design of their sheet; None: one of ours, known by its marks.
    tolerance : str
        Name of a tolerance set.
    report : Path or None
        Folder for the report as a page and as JSON; made if missing.
    force : bool
        Whether existing results may be replaced.
    """

    reference: Path | tuple[Path, ...] | None = None
    references: Path | None = None
    any_sheet: bool = False
    layout: Path | None = None
    corners: tuple[str, ...] = ()
    swatches: Path | None = None
    swatch_reference: Path | None = None
    swatch_layout: Path | None = None
    tolerance: str = "matched"
    report: Path | None = None
    force: bool = False

    @property
    def reference_files(self) -> tuple[Path, ...]:
        """The files of the strip's values; empty if none were given."""
        if self.reference is None:
            return ()
        return self.reference if isinstance(self.reference, tuple) else (self.reference,)


@dataclass(frozen=True, kw_only=True)
class TransferOptions:
    """What carrying values over from a known sheet asks for.

    Attributes
    ----------
    known : tuple of Path
        Files of the known sheet's values; several are averaged.
    out : Path
        File for the values of the other strip.
    layout : Path or None
        The known sheet's design; None: any that ships.
    known_at : str
        ``"left"``, ``"right"``, ``"top"`` or ``"bottom"``: where in the scans the
        known sheet lies; empty: told by design and serial.
    other_ink : bool
        Whether the sheets were printed with different kinds of ink.
    force : bool
        Whether an existing file may be replaced.
    """

    known: tuple[Path, ...]
    out: Path
    layout: Path | None = None
    known_at: str = ""
    other_ink: bool = False
    force: bool = False


@dataclass(frozen=True, kw_only=True)
class MatchOptions(CheckOptions):
    """Options of a job that writes pictures.

    Attributes
    ----------
    out : Path
        Folder for the matched tiles; made if missing.
    space : str
        ``"srgb"`` or ``"oprgb"``.
    format : str
        ``"tiff"``, ``"png"`` or ``"jpeg"``.
    bits : int or None
        8 or 16; None: 16, or 8 where the format holds no more.
    icc_version : int
        4, or 2 for old software.
    compression : str
        For TIFF: ``"deflate"``, ``"lzw"`` or ``"none"``.
    title, creator, copyright : str
        Metadata to write; empty: none.
    scanner_profiles : bool
        Whether to write each tile's input profile beside it.
    """

    out: Path
    space: str = "srgb"
    format: str = "tiff"
    bits: int | None = None
    icc_version: int = 4
    compression: str = "deflate"
    title: str = ""
    creator: str = ""
    copyright: str = ""
    scanner_profiles: bool = False

    @property
    def depth(self) -> int:
        """Bits per channel that will be written."""
        return self.bits or (8 if self.format == "jpeg" else 16)


@dataclass(frozen=True, kw_only=True)
class MergeOptions(MatchOptions):
    """Options of a merge; ``out`` is the picture's file.

    Attributes
    ----------
    blank : Path or None
        Scan of plain white paper over the whole glass, same settings.
    sheet : tuple of float or None
        True width and height of the painting, mm, to check the scale by.
    keep : Path or None
        Region file: places to take from one tile, boxes no seam may cross.
    wrap : float
        Margin of mirrored edges, mm.
    order : tuple of int or None
        Columns and rows: how the tiles lie, given row by row; used only where
        their pictures do not tell.
    maps : Path or None
        Folder for pictures of the seams and of the levelling.
    tiles_too : Path or None
        Folder for the matched and levelled tiles.
    """

    blank: Path | None = None
    sheet: tuple[float, float] | None = None
    keep: Path | None = None
    wrap: float = 0.0
    order: tuple[int, int] | None = None
    maps: Path | None = None
    tiles_too: Path | None = None
