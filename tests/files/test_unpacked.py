"""Unpacked scans give what the scan gives, decode it once and leave nothing behind."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from numpy.typing import NDArray

from colormatch.files import unpacked as module
from colormatch.files.images import open_scan
from colormatch.files.unpacked import unpacked
from colormatch.model import Scan, Window

HEIGHT, WIDTH = 900, 140


def picture(bits: int) -> NDArray[Any]:
    kind = np.uint8 if bits == 8 else np.uint16
    return np.random.default_rng(3).integers(0, 2**bits, (HEIGHT, WIDTH, 3)).astype(kind)


def saved(folder: Path, kind: str, bits: int) -> Path:
    path = folder / f"scan.{kind}"
    if kind == "tif":
        tifffile.imwrite(
            path, picture(bits), photometric="rgb", compression="deflate", rowsperstrip=64
        )
    else:
        path.write_bytes(imagecodecs.png_encode(picture(bits)))
    return path


def counting(scan: Scan) -> tuple[Scan, NDArray[np.int64]]:
    rows = np.zeros(scan.height, np.int64)

    def read(window: Window) -> Any:
        rows[window.row : window.row + window.height] += 1
        return scan.read(window)

    return replace(scan, read=read), rows


def part(bits: int, window: Window) -> NDArray[Any]:
    rows = slice(window.row, window.row + window.height)
    return picture(bits)[rows, window.column : window.column + window.width]


WINDOWS = [
    Window(row=0, column=0, height=64, width=WIDTH - 3),
    Window(row=64, column=0, height=64, width=WIDTH - 3),
    Window(row=500, column=20, height=30, width=40),
    Window(row=10, column=7, height=100, width=9),
    Window(row=HEIGHT - 5, column=WIDTH - 4, height=5, width=4),
    Window(row=128, column=0, height=700, width=WIDTH),
]


@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("kind", ["tif", "png"])
def test_every_window_is_the_scans_own(tmp_path: Path, kind: str, bits: int) -> None:
    scan, rows = counting(open_scan(saved(tmp_path, kind, bits)))
    copy = unpacked(scan, tmp_path)
    assert copy.direct
    for window in [*WINDOWS, *WINDOWS[::-1]]:
        np.testing.assert_array_equal(copy.read(window), part(bits, window))
    assert (rows == 1).all()
    copy.close()
    assert [path.name for path in tmp_path.iterdir()] == [f"scan.{kind}"]


def test_several_threads_may_read(tmp_path: Path) -> None:
    copy = unpacked(open_scan(saved(tmp_path, "tif", 16)), tmp_path)
    rng = np.random.default_rng(5)
    windows = [
        Window(row=int(r), column=int(c), height=60, width=30)
        for r, c in zip(rng.integers(0, 800, 80), rng.integers(0, 100, 80), strict=True)
    ]
    with ThreadPoolExecutor(6) as pool:
        for window, found in zip(windows, pool.map(copy.read, windows), strict=True):
            np.testing.assert_array_equal(found, part(16, window))
    copy.close()
    assert threading.active_count() < 20


@pytest.mark.parametrize("kind", ["tif", "png"])
def test_threads_fill_it_side_by_side_each_row_once(tmp_path: Path, kind: str) -> None:
    scan, rows = counting(open_scan(saved(tmp_path, kind, 16)))
    closed = []
    copy = unpacked(replace(scan, close=lambda: closed.append(True)), tmp_path)
    windows = [Window(row=row, column=0, height=60, width=WIDTH) for row in range(0, HEIGHT, 60)]
    order = np.random.default_rng(8).permutation(len(windows))
    with ThreadPoolExecutor(3) as pool:
        for k, found in zip(order, pool.map(lambda k: copy.read(windows[k]), order), strict=True):
            np.testing.assert_array_equal(found, part(16, windows[k]))
    assert (rows == 1).all()
    assert closed
    np.testing.assert_array_equal(copy.read(WINDOWS[5]), part(16, WINDOWS[5]))
    copy.close()


def test_rows_that_another_thread_is_reading_are_waited_for(tmp_path: Path) -> None:
    scan, rows = counting(open_scan(saved(tmp_path, "tif", 16)))
    begun, go_on = threading.Event(), threading.Event()

    def slow(window: Window) -> Any:
        begun.set()
        assert go_on.wait(10)
        return scan.read(window)

    copy = unpacked(replace(scan, read=slow), tmp_path)
    whole = Window(row=0, column=0, height=HEIGHT, width=WIDTH)
    with ThreadPoolExecutor(2) as pool:
        first = pool.submit(copy.read, whole)
        assert begun.wait(10)
        second = pool.submit(copy.read, WINDOWS[2])
        with pytest.raises(TimeoutError):
            second.result(timeout=0.2)
        go_on.set()
        np.testing.assert_array_equal(second.result(10), part(16, WINDOWS[2]))
        np.testing.assert_array_equal(first.result(10), part(16, whole))
    assert (rows == 1).all()
    copy.close()


def test_rows_that_could_not_be_read_are_asked_for_again(tmp_path: Path) -> None:
    scan = open_scan(saved(tmp_path, "tif", 16))
    failing = [True]

    def read(window: Window) -> Any:
        if failing.pop() if failing else False:
            raise OSError(5, "Input/output error")
        return scan.read(window)

    copy = unpacked(replace(scan, read=read), tmp_path)
    with pytest.raises(OSError, match="Input/output"):
        copy.read(WINDOWS[0])
    for window in WINDOWS:
        np.testing.assert_array_equal(copy.read(window), part(16, window))
    copy.close()


def test_what_is_uncompressed_is_read_from_its_own_file(tmp_path: Path) -> None:
    path = tmp_path / "plain.tif"
    tifffile.imwrite(path, picture(16), photometric="rgb")
    scan = open_scan(path)
    assert unpacked(scan, tmp_path) is scan


def test_without_room_the_scan_is_read_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan = open_scan(saved(tmp_path, "tif", 16))
    monkeypatch.setattr(module, "ROOM_LEFT", 1e12)
    assert unpacked(scan, tmp_path) is scan
    assert unpacked(scan, tmp_path / "absent") is scan


def test_a_disk_that_fills_up_meanwhile_only_makes_it_slower(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full:
        def __init__(self) -> None:
            self.left = 3 * WIDTH * 2 * 100

        def write(self, data: memoryview) -> int:
            if self.left <= 0:
                raise OSError(28, "No space left on device")
            count = min(len(data), self.left)
            self.left -= count
            return count

        def seek(self, place: int) -> None:
            pass

        def close(self) -> None:
            pass

    monkeypatch.setattr("tempfile.TemporaryFile", lambda **_: Full())
    copy = unpacked(open_scan(saved(tmp_path, "tif", 16)), tmp_path)
    for window in WINDOWS:
        np.testing.assert_array_equal(copy.read(window), part(16, window))
    copy.close()


def test_a_closed_scan_can_be_read_again(tmp_path: Path) -> None:
    copy = unpacked(open_scan(saved(tmp_path, "tif", 8)), tmp_path)
    copy.read(WINDOWS[2])
    copy.close()
    np.testing.assert_array_equal(copy.read(WINDOWS[3]), part(8, WINDOWS[3]))
