"""Read and write 35 megapixels in every format; run ``python -m tests.benchmarks.bench_files``.

Seconds and memory are printed beside those of a plain copy of the same bytes.
The scene has the noise of a scanner, which decides how well it packs.
"""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import psutil
from numpy.typing import NDArray

from colormatch.files.images import open_scan
from colormatch.files.overview import overview
from colormatch.files.writing import write_picture
from colormatch.model import Window

HEIGHT, WIDTH = 7016, 4960
REPEATS = 3


def scene() -> NDArray[np.uint16]:
    """Give soft shapes with the noise of a scanner, sigma 150 of 65535."""
    rng = np.random.default_rng(1)
    coarse = rng.random((HEIGHT // 40, WIDTH // 40, 3), dtype=np.float32)
    picture = cv2.resize(coarse, (WIDTH, HEIGHT), interpolation=cv2.INTER_CUBIC)
    noise = rng.standard_normal(picture.shape, dtype=np.float32)
    pixels: NDArray[np.uint16] = np.clip(picture * 40000 + 8000 + noise * 150, 0, 65535).astype(
        "u2"
    )
    return pixels


def measured(work: Callable[[], object]) -> tuple[float, float, float]:
    """Give the best of a few runs, seconds and seconds of CPU, and the memory added, MB."""
    process = psutil.Process()
    best, cpu, before, most = float("inf"), float("inf"), process.memory_info().rss, 0
    ended = threading.Event()

    def watch() -> None:
        nonlocal most
        while not ended.wait(0.003):
            most = max(most, process.memory_info().rss)

    watcher = threading.Thread(target=watch)
    watcher.start()
    for _ in range(REPEATS):
        start, busy = time.perf_counter(), time.process_time()
        work()
        best = min(best, time.perf_counter() - start)
        cpu = min(cpu, time.process_time() - busy)
    ended.set()
    watcher.join()
    return best, cpu, max(most - before, 0) / 1e6


def say(label: str, work: Callable[[], object]) -> None:
    seconds, cpu, megabytes = measured(work)
    rate = HEIGHT * WIDTH / 1e6 / seconds
    figures = f"{seconds:7.3f} s {cpu:7.3f} s of CPU {rate:6.0f} MP/s {megabytes:5.0f} MB"
    sys.stdout.write(f"{label:38s} {figures}\n")
    sys.stdout.flush()


def read_all(path: Path) -> None:
    scan = open_scan(path)
    for row in range(0, HEIGHT, 256):
        scan.read(Window(row=row, column=0, height=min(256, HEIGHT - row), width=WIDTH))
    scan.close()


def small(path: Path) -> None:
    scan = open_scan(path)
    overview(scan, 8)
    scan.close()


def blocks(pixels: NDArray[Any]) -> Iterator[NDArray[Any]]:
    return (pixels[row : row + 200] for row in range(0, HEIGHT, 200))


CASES = [
    ("tiff", 16, "none"),
    ("tiff", 16, "deflate"),
    ("tiff", 8, "none"),
    ("tiff", 8, "deflate"),
    ("tiff", 8, "lzw"),
    ("png", 16, "deflate"),
    ("png", 8, "deflate"),
    ("jpeg", 8, "deflate"),
]


def main() -> None:
    """Measure and print."""
    pixels = {16: scene()}
    pixels[8] = (pixels[16] >> 8).astype(np.uint8)
    copy = np.empty_like(pixels[16])
    say("copy of the 16-bit pixels", lambda: np.copyto(copy, pixels[16]))
    with tempfile.TemporaryDirectory() as folder:
        for form, bits, compression in CASES:
            path = Path(folder) / f"{form}-{bits}-{compression}"
            label = f"{form} {bits} bit" + (f" {compression}" if form == "tiff" else "")

            def write(
                path: Path = path, form: str = form, bits: int = bits, packed: str = compression
            ) -> None:
                write_picture(
                    path,
                    blocks(pixels[bits]),
                    width=WIDTH,
                    height=HEIGHT,
                    bits=bits,
                    format=form,
                    compression=packed,
                    force=True,
                )

            say(f"write {label}", write)
            share = path.stat().st_size / pixels[bits].nbytes
            sys.stdout.write(f"{'':40s}{share:.0%} of the raw bytes\n")
            say(f"read {label}", lambda path=path: read_all(path))  # type: ignore[misc]
            say(f"overview, step 8, {label}", lambda path=path: small(path))  # type: ignore[misc]
            path.unlink()


if __name__ == "__main__":
    main()
