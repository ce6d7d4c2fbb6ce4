"""Pixels, bytes, time and print sizes, by hand."""

from __future__ import annotations

import pytest

from colormatch.job.plan import strip_sizes
from colormatch.planning.arranging import arrange
from colormatch.planning.figures import pixels, prints_of, sizes_of, times_of
from colormatch.plans import Frame, Wish


def grid(ppi: float = 600.0, frame: Frame = Frame.PAPER):  # type: ignore[no-untyped-def]
    return arrange(Wish(painting=(297.0, 420.0), ppi=ppi, frame=frame), strip_sizes())


def test_an_inch_is_25_4_millimetres() -> None:
    # International yard and pound agreement, 1959: exactly.
    assert pixels((25.4, 254.0), 300.0) == (300, 3000)
    # A4, ISO 216, at 300 ppi: 2480 x 3508, the usual figure.
    assert pixels((210.0, 297.0), 300.0) == (2480, 3508)


def test_bytes_of_four_tiles_a_blank_sheet_and_the_picture() -> None:
    sizes = sizes_of(grid())
    # 216 mm at 600 ppi: 5102.4 pixels; 297 mm: 7015.7. Three channels of two bytes.
    assert sizes.scan_pixels == (5102, 7016)
    assert sizes.scan == 5102 * 7016 * 6 == 214_773_792
    # A3: 7015.7 x 9921.3 pixels.
    assert sizes.result == 7016 * 9921 * 6
    assert sizes.scans == 5
    assert sizes.disk == 5 * 214_773_792 + 7016 * 9921 * 6
    assert sizes.disk_packed == pytest.approx(0.8 * sizes.disk)
    assert sizes.disk_merging == sizes.disk - sizes.result


def test_time_grows_with_lines_and_counts_warm_up_and_blank_sheet() -> None:
    fine, coarse = times_of(grid()), times_of(grid(ppi=300.0))
    assert fine.per_scan == pytest.approx(2 * coarse.per_scan, rel=1e-3)
    assert fine.scans == 6
    assert fine.total == pytest.approx(6 * fine.per_scan + 4 * fine.per_laying)


def test_prints_keep_the_painting_upright_and_trade_size_for_resolution() -> None:
    at_300, at_240 = prints_of(grid())
    # 600 ppi printed at 300 ppi is twice as large.
    assert at_300.size == pytest.approx((594.0, 840.0), abs=0.1)
    assert at_240.size == pytest.approx((742.5, 1050.0), abs=0.1)
