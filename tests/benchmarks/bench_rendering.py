"""How long joining takes, beside decoding the tiles and encoding the result; and how much memory.

Run ``python -m tests.benchmarks.bench_rendering``, with ``--help`` for what can
be varied. Each task runs in a process of its own, whose resident memory is
sampled from outside. Beside the seconds stand those of all threads together:
on a machine busy with other work only their ratio means anything. Tiles are drawn:
smooth texture with a scanner's noise,
which deflate hardly shrinks. Places, labels and agreement are stand-ins: small
slants, a wobble of a pixel, seams that wave across half the overlap, agreement
everywhere but in one square in sixteen.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.encoding import Encoder
from colormatch.colour.spaces import rgb_space
from colormatch.files.images import open_scan
from colormatch.files.unpacked import unpacked
from colormatch.files.writing import write_picture
from colormatch.fitting.applying import Correction
from colormatch.joining.blocks import Picture
from colormatch.joining.rendering import Renderer
from colormatch.joining.sources import RenderTile
from colormatch.model import FloatArray, Scan, Window
from tests.benchmarks.watching import watched

WIDTH, HEIGHT = 4960, 7016
"""Of a tile: A4 at 600 ppi, 35 megapixels."""
OVERLAP = 300, 500
"""Pixels shared by neighbours, across and down."""
WOBBLE = 600.0
"""Scan rows per swing: 25 mm at 600 ppi."""
STEP = 32
ROWS = 256


def main() -> None:
    """Measure and tell; each line is one task."""
    options = _options()
    with tempfile.TemporaryDirectory(dir=options.folder) as folder:
        scan, out = Path(folder) / "tile.tif", Path(folder) / "joined.tif"
        _draw(scan, options.compression)
        results = {}
        for task in ("nothing", "decode", "encode", "join"):
            out.unlink(missing_ok=True)
            results[task] = _measured(task, scan, out, options)
            line = "{0:8} {seconds:7.2f} s, all threads {work:7.2f} s, peak {peak:5.0f} MB"
            _tell(line.format(task, **results[task]))
    for kind in ("seconds", "work"):
        plain = results["decode"][kind] + results["encode"][kind]
        _tell(f"{kind}: join / (decode + encode) = {results['join'][kind] / plain:.2f}")
    _tell(f"{results['join']['uncovered']} px uncovered")


def _tell(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--across", type=int, default=2, help="tiles side by side")
    parser.add_argument("--down", type=int, default=2, help="tiles one below the other")
    parser.add_argument("--turned", action="store_true", help="tiles lie turned by a quarter")
    parser.add_argument("--compression", default="deflate", choices=["deflate", "none"])
    parser.add_argument("--folder", type=Path, help="for the files")
    parser.add_argument("--task", help=argparse.SUPPRESS)
    parser.add_argument("--scan", type=Path, help=argparse.SUPPRESS)
    parser.add_argument("--out", type=Path, help=argparse.SUPPRESS)
    return parser.parse_args()


def _draw(path: Path, compression: str) -> None:
    rng = np.random.default_rng(1)
    coarse = rng.random((HEIGHT // 64 + 2, WIDTH // 64 + 2, 3)) * 30000 + 15000

    def blocks() -> Iterator[NDArray[np.uint16]]:
        import cv2

        large = cv2.resize(coarse.astype(np.float32), None, fx=64, fy=64)
        for row in range(0, HEIGHT, ROWS):
            part = np.asarray(large[row : min(row + ROWS, HEIGHT), :WIDTH])
            noise = rng.standard_normal(part.shape, dtype=np.float32)
            yield (part + 150 * noise).astype(np.uint16)

    write_picture(path, blocks(), width=WIDTH, height=HEIGHT, compression=compression)


def _measured(task: str, scan: Path, out: Path, options: argparse.Namespace) -> dict[str, Any]:
    """Run a task in a process of its own; its seconds, its peak memory in MB."""
    shape = ["--across", str(options.across), "--down", str(options.down)]
    shape += ["--turned"] if options.turned else []
    words = [*shape, "--compression", options.compression]
    words += ["--task", task, "--scan", str(scan), "--out", str(out)]
    seen = watched("tests.benchmarks.bench_rendering", words)
    return {**json.loads(seen.told), "peak": seen.peak}


def run_task(options: argparse.Namespace) -> dict[str, Any]:
    """Do one task and give its seconds, start-up not counted."""
    width, height = _size(options)
    tiles = [open_scan(options.scan) for _ in range(options.across * options.down)]
    uncovered = 0
    start, working = time.perf_counter(), time.process_time()
    if options.task == "decode":
        for scan in tiles:
            for row in range(0, HEIGHT, ROWS):
                scan.read(_rows(row, HEIGHT, WIDTH))
            scan.close()
    elif options.task == "encode":
        _write(options, _ready_blocks(tiles[0], width, height), width, height)
    elif options.task == "join":
        tiles = [unpacked(scan, options.scan.parent) for scan in tiles]
        renderer = Renderer(picture=_picture(tiles, options))
        space = rgb_space("oprgb")
        _write(options, renderer.encoded(Encoder(space, 16)), width, height)
        uncovered = renderer.tally.uncovered
    return {
        "seconds": time.perf_counter() - start,
        "work": time.process_time() - working,
        "uncovered": uncovered,
    }


def _rows(row: int, height: int, width: int) -> Window:
    return Window(row=row, column=0, height=min(ROWS, height - row), width=width)


def _size(options: argparse.Namespace) -> tuple[int, int]:
    tile = (HEIGHT, WIDTH) if options.turned else (WIDTH, HEIGHT)
    counts = (options.across, options.down)
    width, height = (n * s - (n - 1) * o for n, s, o in zip(counts, tile, OVERLAP, strict=True))
    # The slants leave a rim uncovered: trimmed, as a real picture would be.
    return width - 80, height - 80


def _ready_blocks(scan: Scan, width: int, height: int) -> Iterator[NDArray[Any]]:
    block = scan.read(Window(row=0, column=0, height=ROWS, width=WIDTH))
    wide = np.tile(block, (1, width // WIDTH + 1, 1))[:, :width]
    for row in range(0, height, ROWS):
        yield wide[: min(ROWS, height - row)]


def _write(
    options: argparse.Namespace, blocks: Iterator[NDArray[Any]], width: int, height: int
) -> None:
    write_picture(options.out, blocks, width=width, height=height, compression=options.compression)


def _picture(scans: list[Scan], options: argparse.Namespace) -> Picture:
    width, height = _size(options)
    return Picture(
        width=width,
        height=height,
        tiles=tuple(_tile(scan, k, options) for k, scan in enumerate(scans)),
        labels=_labels(options),
        blendable=_agreement,
    )


def _tile(scan: Scan, number: int, options: argparse.Namespace) -> RenderTile:
    rng = np.random.default_rng(number)
    grid = HEIGHT // STEP, WIDTH // STEP
    corrected = Correction(
        decode=np.linspace(0, 1, 65536, dtype=np.float32)[:, None].repeat(3, axis=1) ** 2,
        scattered=(rng.random((*grid, 3)) * 0.01).astype(np.float32),
        lamp=(0.97 + rng.random(grid) * 0.06).astype(np.float32),
        step=STEP,
        matrix=np.array([[0.9, 0.1, 0], [0.05, 0.9, 0.05], [0, 0.1, 0.9]], np.float32),
    )
    return RenderTile(
        name=f"tile {number}",
        width=WIDTH,
        height=HEIGHT,
        bits=16,
        read=scan.read,
        correct=corrected.apply,
        scan_from_canvas=_mapping(number, options),
        gain=(0.97 + rng.random((HEIGHT // 256, WIDTH // 256)) * 0.06).astype(np.float32),
        gain_step=256,
    )


def _mapping(number: int, options: argparse.Namespace) -> Callable[[FloatArray], FloatArray]:
    row, column = divmod(number, options.across)
    size = (HEIGHT, WIDTH) if options.turned else (WIDTH, HEIGHT)
    left, top = column * (size[0] - OVERLAP[0]) - 40, row * (size[1] - OVERLAP[1]) - 40
    angle = np.radians((-0.12, 0.2, 0.07, -0.16)[number % 4])
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]]) * 1.0003
    middle = np.array(size) / 2

    def scan_from_canvas(points: FloatArray) -> FloatArray:
        placed = (points - (left, top) - middle) @ turn.T + middle
        if options.turned:
            placed = np.stack([placed[:, 1], HEIGHT - 1 - placed[:, 0]], axis=1)
        swing = np.sin(placed[:, 1] * (2 * np.pi / WOBBLE) + number)
        return np.asarray(placed + 0.5 * np.stack([swing, swing], axis=1))

    return scan_from_canvas


def _labels(options: argparse.Namespace) -> Callable[[Window], NDArray[np.uint8]]:
    size = (HEIGHT, WIDTH) if options.turned else (WIDTH, HEIGHT)
    pitch = size[0] - OVERLAP[0], size[1] - OVERLAP[1]

    def labels(window: Window) -> NDArray[np.uint8]:
        y = np.arange(window.row, window.row + window.height)[:, None]
        x = np.arange(window.column, window.column + window.width)[None]
        found = np.zeros((window.height, window.width), np.uint8)
        for column in range(1, options.across):
            found += x > column * pitch[0] + OVERLAP[0] // 2 - 40 + 60 * np.sin(y / 300)
        for row in range(1, options.down):
            lower = y > row * pitch[1] + OVERLAP[1] // 2 - 40 + 100 * np.sin(x / 400)
            found += lower * np.uint8(options.across)
        return found

    return labels


def _agreement(window: Window) -> NDArray[np.bool_]:
    y = np.arange(window.row, window.row + window.height)[:, None] // 100
    x = np.arange(window.column, window.column + window.width)[None] // 100
    return np.asarray((x % 4 != 0) | (y % 4 != 0))


if __name__ == "__main__":
    if "--task" in sys.argv:
        _tell(json.dumps(run_task(_options())))
    else:
        main()
