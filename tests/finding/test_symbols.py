"""Reading a sheet's symbol in invented scans."""

from __future__ import annotations

import time
from dataclasses import replace

import numpy as np
import pytest

from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.finding.reading import Region
from colormatch.finding.strips import find_strips
from colormatch.finding.symbols import read_symbol
from colormatch.model import FloatArray, Layout, StripReading
from tests.finding import scenes

SERIAL = "7F3-K2A"


def scan(
    ppi: float = 300,
    *,
    degrees: float = 0.0,
    gain: float = 1.0,
    bits: int = 8,
    blur: float = 0.8,
    serial: str = SERIAL,
    layout: str = "strip-short",
    cover: tuple[float, float, float] | None = None,
) -> tuple[scenes.Codes, FloatArray, Layout]:
    """Scan a strip; ``cover`` is a disc of something over it, mm."""
    rng = np.random.default_rng(int(ppi + degrees))
    sheet = shipped_layouts()[layout]
    size = int(110 * ppi / 25.4)
    scene = scenes.Scene(width=size, height=size, ppi=ppi, bits=bits, blur=blur, noise=0.008)
    canvas = scenes.canvas(scene, rng)
    px_from_mm = scenes.pose(sheet, (size / 2, size / 2), ppi, degrees)
    light = scenes.printed(shipped_reference(layout), rng)
    scenes.lay_strip(canvas, sheet, light, px_from_mm, serial)
    if cover:
        scenes.cover(canvas, px_from_mm, cover[:2], cover[2])
    return scenes.scanned(canvas, gain), px_from_mm, sheet


def found(picture: scenes.Codes, ppi: float) -> StripReading:
    step = max(1, round(ppi / 75))
    layouts = shipped_layouts()
    (strip,) = find_strips(
        scenes.overview_of(picture, step),
        step,
        scenes.Windows(picture),
        (picture.shape[1], picture.shape[0]),
        tuple(layouts.values()),
        references={name: shipped_reference(name) for name in layouts},
        ppi=ppi,
    )
    return strip


@pytest.mark.parametrize("degrees", [3.0, 87.0, 181.0, 268.5])
@pytest.mark.parametrize(("ppi", "bits"), [(200, 8), (300, 8), (300, 16), (600, 16)])
def test_is_read_at_all_turns(ppi: float, bits: int, degrees: float) -> None:
    picture, _, _ = scan(ppi, degrees=degrees, bits=bits)
    strip = found(picture, ppi)
    assert (strip.serial, strip.symbol) == (SERIAL, "read")


@pytest.mark.parametrize("gain", [0.15, 0.4, 1.3])
def test_is_read_at_all_exposures(gain: float) -> None:
    picture, px_from_mm, sheet = scan(gain=gain)
    assert read(picture, px_from_mm, sheet) == (SERIAL, "read")


@pytest.mark.parametrize(("ppi", "blur"), [(300, 2.0), (200, 1.2), (600, 4.0)])
def test_is_read_in_a_soft_scan(ppi: float, blur: float) -> None:
    picture, px_from_mm, sheet = scan(ppi, blur=blur)
    assert read(picture, px_from_mm, sheet) == (SERIAL, "read")


def test_a_strip_printed_before_there_were_symbols_is_known_as_such() -> None:
    picture, _, _ = scan(serial="")
    strip = found(picture, 300)
    assert (strip.serial, strip.symbol) == ("", "not printed")


def test_a_spoilt_symbol_is_called_unreadable_and_never_misread() -> None:
    picture, px_from_mm, sheet = scan(cover=(5.4, 12.3, 1.9))
    assert read(picture, px_from_mm, sheet) == ("", "unreadable")
    # A speck is within what the symbol itself puts right.
    picture, px_from_mm, sheet = scan(cover=(5.4, 12.3, 0.4))
    assert read(picture, px_from_mm, sheet) == (SERIAL, "read")


def test_a_symbol_beyond_the_scans_edge_is_called_unreadable() -> None:
    picture, px_from_mm, sheet = scan()
    away = px_from_mm + np.array([[0, 0, -2 * px_from_mm[0, 2]], [0, 0, 0]])
    assert read(picture, away, sheet) == ("", "unreadable")


def test_another_designs_symbol_is_named() -> None:
    picture, px_from_mm, sheet = scan()
    assert sheet.symbol is not None
    other = replace(sheet, symbol=replace(sheet.symbol, design="XX9"))
    assert read(picture, px_from_mm, other) == ("", f"SS1 {SERIAL}")


def test_takes_less_than_a_tenth_of_a_second() -> None:
    picture, px_from_mm, sheet = scan(600)
    read(picture, px_from_mm, sheet)
    start = time.process_time()
    read(picture, px_from_mm, sheet)
    assert time.process_time() - start < 0.1


def read(picture: scenes.Codes, px_from_mm: FloatArray, sheet: Layout) -> tuple[str, str]:
    size = (picture.shape[1], picture.shape[0])
    region = Region(scenes.Windows(picture), size, np.zeros(2), np.array(size, dtype=float))
    return read_symbol(region, px_from_mm, sheet.symbol)
