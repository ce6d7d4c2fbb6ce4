"""What a plan costs and what it gives: bytes, time, print sizes."""

from __future__ import annotations

from colormatch.plans import PrintSize, Size, Sizes, TileGrid, Times

MM_PER_INCH = 25.4
BYTES_PER_PIXEL = 6
"""Red, green and blue of 16 bits each."""
PACKED = 0.8
"""Share that deflate leaves of a 16-bit scan: an assumption; it left 0.80 of scans with
ordinary noise (the demo's, with the horizontal predictor of TIFF 6.0). A noisier
scanner packs worse."""
SECONDS_PER_LINE = 0.013
"""Per line of a 16-bit colour scan: an assumption, 90 s for an A4 glass at 600 ppi.
Common practice, no source; scanners differ by a factor of three either way."""
SECONDS_PER_LAYING = 180.0
"""Turning, laying, pressing, checking, per tile: an assumption, no source."""
WARM_UP_SCANS = 1
"""The first scan of a cold lamp may be 1 % off: it is thrown away (common practice)."""
BLANK_SHEETS = 1
PRINT_PPI = (300.0, 240.0)
"""What print shops ask for, and what large prints are seen to need (common practice)."""


def pixels(size: Size, ppi: float) -> tuple[int, int]:
    """Give width and height in pixels of a size in mm."""
    return round(size[0] / MM_PER_INCH * ppi), round(size[1] / MM_PER_INCH * ppi)


def sizes_of(grid: TileGrid) -> Sizes:
    """Count the bytes of all files; every scan shows the whole glass."""
    scan_pixels = pixels(grid.wish.glass, grid.wish.ppi)
    result_pixels = pixels(grid.lying, grid.wish.ppi)
    scan = scan_pixels[0] * scan_pixels[1] * BYTES_PER_PIXEL
    result = result_pixels[0] * result_pixels[1] * BYTES_PER_PIXEL
    scans = len(grid.tiles) + BLANK_SHEETS
    disk = scans * scan + result
    return Sizes(
        scan=scan,
        scan_pixels=scan_pixels,
        scans=scans,
        result=result,
        result_pixels=result_pixels,
        packed=PACKED,
        disk=disk,
        disk_packed=round(disk * PACKED),
        disk_merging=scans * scan,
    )


def times_of(grid: TileGrid) -> Times:
    """Estimate how long scanning takes, warm-up and blank sheet included."""
    per_scan = pixels(grid.wish.glass, grid.wish.ppi)[1] * SECONDS_PER_LINE
    scans = len(grid.tiles) + WARM_UP_SCANS + BLANK_SHEETS
    total = scans * per_scan + len(grid.tiles) * SECONDS_PER_LAYING
    return Times(per_scan=per_scan, per_laying=SECONDS_PER_LAYING, scans=scans, total=total)


def prints_of(grid: TileGrid) -> tuple[PrintSize, ...]:
    """Give the sizes at which the painting, the right way up, can be printed."""
    width, height = pixels(grid.wish.painting, grid.wish.ppi)
    return tuple(
        PrintSize(ppi=ppi, size=(width / ppi * MM_PER_INCH, height / ppi * MM_PER_INCH))
        for ppi in PRINT_PPI
    )
