"""What a studio's log keeps of every scan, as records; no arithmetic."""

from __future__ import annotations

from dataclasses import dataclass

Triple = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class PatchEntry:
    """One patch as it was read.

    Attributes
    ----------
    id : str
        Name on the strip; of a second strip in the same scan, with ``2:`` before it.
    wanted : Triple
        CIELAB (D50, 2 degrees) of the reference.
    scanned : Triple or None
        The same as scanned and corrected; None, as below, if it was not used.
    encoded, linear, light : Triple or None
        Red, green, blue: as in the file; by the tone curve; of that, without
        scattered light and evened along the strip, in the scanner's own scale.
    """

    id: str
    wanted: Triple
    scanned: Triple | None = None
    encoded: Triple | None = None
    linear: Triple | None = None
    light: Triple | None = None


@dataclass(frozen=True, kw_only=True)
class LogEntry:
    """One scan.

    Attributes
    ----------
    time : str
        UTC, ISO 8601 to the second, with ``Z``.
    job : str
        The same for all scans of one command.
    version, command : str
        Of colormatch.
    scan : str
        The file's name without its folder.
    scanner, scanner_from : str
        Name, and ``"user"``, ``"file"`` or ``""`` for not known.
    strip, layout : str
        What the user calls the strip, else its serial or its reference; its design.
    serial : str
        Of the sheet, as its symbol says; empty if it was not read.
    reference, reference_date, reference_kind, reference_key : str
        File name, date as stated, ``"measured"``, ``"carried over"`` or ``"nominal"``, and a
        short sum of the values that tells one strip's from another's.
    ppi : tuple of float or None
        As measured on the strip.
    bits : int
    gains : Triple or None
        Light of red, green, blue against the first scan of the same command.
    white : Triple or None
        What the perfect diffuser would read, linear, in the scanner's own scale.
    matrix : tuple of Triple or None
        ``xyz_from_rgb``.
    fitted, left_out : Triple or None
        CIEDE2000 mean, 95th percentile and largest over the patches in the fit, and
        over each left out of it.
    fall_off : tuple of float or None
        Light at the strip's left and right end, percent less or more than at its middle.
    scattered : float or None
        Percent of scattered light removed.
    tolerance, level : str
        What was measured against, and the level reached, empty for none.
    advice : str
    findings : tuple of str
        Their kinds.
    error : str
        Why the scan could not be used; else empty.
    patches : tuple of PatchEntry
    """

    time: str
    job: str
    version: str
    command: str
    scan: str
    scanner: str
    scanner_from: str
    strip: str
    layout: str
    serial: str
    reference: str
    reference_date: str
    reference_kind: str
    reference_key: str
    ppi: tuple[float, float] | None
    bits: int
    gains: Triple | None
    white: Triple | None
    matrix: tuple[Triple, ...] | None
    fitted: Triple | None
    left_out: Triple | None
    fall_off: tuple[float, float] | None
    scattered: float | None
    tolerance: str
    level: str
    advice: str
    findings: tuple[str, ...]
    error: str
    patches: tuple[PatchEntry, ...] = ()
