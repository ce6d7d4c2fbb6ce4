"""Whole merges of large scans: time beside decoding and encoding, and peak memory.

Run ``python -m tests.benchmarks.bench_whole [--columns 2] [--rows 2]``; ``--help``
tells what can be varied. A4 scans at 600 ppi, 35 megapixels each, are rendered by
the demo's scanner at a part of that resolution and enlarged, with the scanner's
noise put on afterwards. Then, each in a process of its own whose resident memory
is sampled from outside:

- ``decode``: every tile is read once from top to bottom;
- ``encode``: the merged picture, ready in memory, is written with the same settings;
- ``merge``: the command itself, from start-up to the finished file.

Tiles that touch no edge of the painting have no room for a strip and get none.
Beside wall seconds stand those of all threads together: on a machine busy with
other work only the ratio of the latter means anything.
"""

from __future__ import annotations

import argparse
import json
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from colormatch.files.images import open_scan
from colormatch.files.references import reference_text
from colormatch.files.writing import write_picture
from colormatch.model import Window
from demo.geometry import Placing
from demo.scanner import scan_tile
from demo.scene import make_scene
from demo.settings import ScannerModel, StripPlace, TileSettings
from demo.strip import shipped_strip, true_reference
from tests.benchmarks.watching import watched

GLASS = 210.0, 297.0
PPI = 600.0
MARGIN = 7.0
"""Bare glass beside the painting, mm."""
STRIP_ROOM = 31.0
"""Bare glass above or below it, where the strip lies, mm."""
OVERLAP = 25.0
ROWS = 256
TASKS = ("decode", "encode", "merge")


def main() -> None:
    """Measure and tell."""
    options = _options()
    with tempfile.TemporaryDirectory(dir=options.folder) as made:
        folder = options.tiles or Path(made)
        if not (folder / "strip.txt").exists():
            draw(folder, options)
        options.tiles, options.out = folder, Path(made) / "merged.tif"
        # The merge comes first: the encoder is timed with what it wrote.
        found = {task: measured(task, options) for task in ("merge", "decode", "encode")}
    for task in TASKS:
        line = "{0:7} {wall:7.1f} s, all threads {work:7.1f} s, peak {peak:5.0f} MB"
        _tell(line.format(task, **found[task]))
    for kind in ("wall", "work"):
        plain = found["decode"][kind] + found["encode"][kind]
        _tell(f"{kind}: merge / (decode + encode) = {found['merge'][kind] / plain:.2f}")
    _tell(f"result {found['encode']['megapixels']:.0f} megapixels")


def _tell(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--columns", type=int, default=2)
    parser.add_argument("--rows", type=int, default=2)
    parser.add_argument("--kind", default="coast", help="painting of the demo")
    parser.add_argument("--enlarge", type=int, default=2, help="times the rendered resolution")
    parser.add_argument("--format", default="tiff", choices=["tiff", "png"])
    parser.add_argument("--compression", default="deflate", choices=["deflate", "none"])
    parser.add_argument("--folder", type=Path, help="for temporary files")
    parser.add_argument("--tiles", type=Path, help="keep the tiles here, use them if there")
    parser.add_argument("--task", help=argparse.SUPPRESS)
    parser.add_argument("--out", type=Path, help=argparse.SUPPRESS)
    return parser.parse_args()


def draw(folder: Path, options: argparse.Namespace) -> None:
    """Render and enlarge all tiles, and write the strip's values beside them."""
    folder.mkdir(exist_ok=True)
    places, size = laid(options.columns, options.rows)
    ppi = PPI / options.enlarge
    scene = make_scene(options.kind, seed=1, size=size, ppi=1.5 * ppi)
    scanner = ScannerModel(
        glass=GLASS, ppi=ppi, vignette=0.04, tilt=-0.015, wobble=0.04, flare=0.02, optics=0.35
    )
    strip = shipped_strip("strip-long")
    for number, (placing, where) in enumerate(places):
        strips = () if where is None else (StripPlace(layout="strip-long", placing=where),)
        tile = TileSettings(placing=placing, strips=strips, exposure=0.86, phase=1.3 * number)
        rng = np.random.default_rng(number)
        scan = scan_tile(scene, scanner, tile, strips={"strip-long": strip}, rng=rng)
        suffix = "tif" if options.format == "tiff" else "png"
        _enlarged(folder / f"tile-{number + 1:02d}.{suffix}", scan.pixels, options, rng)
    values = true_reference(strip, noise=0.15, rng=np.random.default_rng(0))
    (folder / "strip.txt").write_text(reference_text(values, "strip-long"), encoding="utf-8")


def laid(
    columns: int, rows: int
) -> tuple[list[tuple[Placing, Placing | None]], tuple[float, float]]:
    """Lay a painting down once per tile; the strip too, where there is room for it."""
    rights, width = _starts(columns, GLASS[0], MARGIN)
    downs, height = _starts(rows, GLASS[1], STRIP_ROOM)
    slants = (0.4, -0.3, -0.5, 0.2, 0.1)
    places: list[tuple[Placing, Placing | None]] = []
    for row, top in enumerate(downs):
        for left in rights:
            slant = slants[len(places) % len(slants)]
            centre = left + GLASS[0] / 2, top + GLASS[1] / 2
            at = GLASS[0] / 2, GLASS[1] / 2
            places.append((Placing(centre=centre, at=at, slant=slant), _strip_place(row, rows)))
    return places, (width, height)


def _starts(count: int, glass: float, room: float) -> tuple[list[float], float]:
    """Where on the sheet the glass begins, tile by tile; and how long the sheet is."""
    starts = [k * (glass - OVERLAP) - room for k in range(count)]
    # The last tile ends as far beyond the sheet as the first begins before it.
    length = starts[-1] + glass - room
    if count == 1:
        length = glass - 2 * room
    return starts, length


def _strip_place(row: int, rows: int) -> Placing | None:
    shipped = shipped_strip("strip-long").layout
    middle = shipped.width / 2, shipped.height / 2
    if row == 0:
        return Placing(centre=middle, at=(GLASS[0] / 2, 13.5), slant=0.3)
    if row == rows - 1:
        return Placing(centre=middle, at=(GLASS[0] / 2, GLASS[1] - 13.5), slant=-0.2)
    return None


def _enlarged(
    path: Path, pixels: NDArray[Any], options: argparse.Namespace, rng: np.random.Generator
) -> None:
    import cv2

    times, (height, width) = options.enlarge, pixels.shape[:2]

    def blocks() -> Iterator[NDArray[np.uint16]]:
        for row in range(0, height, 64):
            low, high = max(row - 8, 0), min(row + 72, height)
            large = np.asarray(
                cv2.resize(
                    pixels[low:high].astype(np.float32),
                    (width * times, (high - low) * times),
                    interpolation=cv2.INTER_LANCZOS4,
                )
            )
            part = large[(row - low) * times : (min(row + 64, height) - low) * times]
            part = part + 120 * rng.standard_normal(part.shape, dtype=np.float32)
            yield np.clip(part + 0.5, 0, 65535).astype(np.uint16)

    write_picture(
        path,
        blocks(),
        width=width * times,
        height=height * times,
        format=options.format,
        compression=options.compression,
        ppi=(PPI, PPI),
    )


def measured(task: str, options: argparse.Namespace) -> dict[str, Any]:
    """Run a task in a process of its own; its seconds and its peak memory in MB."""
    if task == "merge":
        seen = watched("colormatch", merge_words(options))
    else:
        words = ["--task", task, "--tiles", str(options.tiles), "--out", str(options.out)]
        words += ["--compression", options.compression]
        seen = watched("tests.benchmarks.bench_whole", words)
    _tell(f"{task} done, {seen.wall:.1f} s")
    found = {"wall": seen.wall, "work": seen.work, "peak": seen.peak}
    return {**found, **(json.loads(seen.told.splitlines()[-1]) if task != "merge" else {})}


def merge_words(options: argparse.Namespace) -> list[str]:
    """Give the command as a painter would."""
    words = ["merge", *map(str, scans_in(options.tiles)), "--out", str(options.out), "--force"]
    reference = ["--reference", str(options.tiles / "strip.txt")]
    return [*words, *reference, "--compression", options.compression]


def scans_in(folder: Path) -> list[Path]:
    """Give the tiles, in order."""
    return sorted(p for p in folder.iterdir() if p.name.startswith("tile-"))


def run_task(options: argparse.Namespace) -> dict[str, Any]:
    """Do one task; its seconds without start-up."""
    if options.task == "decode":
        start, working = time.perf_counter(), time.process_time()
        for path in scans_in(options.tiles):
            _decoded(path)
        return _taken(start, working)
    ready = _decoded(options.out, keep=True)
    start, working = time.perf_counter(), time.process_time()
    again = options.out.with_name("again.tif")
    write_picture(
        again,
        (ready[row : row + ROWS] for row in range(0, len(ready), ROWS)),
        width=ready.shape[1],
        height=ready.shape[0],
        compression=options.compression,
    )
    return {**_taken(start, working), "megapixels": ready.size / 3e6}


def _taken(start: float, working: float) -> dict[str, Any]:
    return {"wall": time.perf_counter() - start, "work": time.process_time() - working}


def _decoded(path: Path, *, keep: bool = False) -> NDArray[np.uint16]:
    scan = open_scan(path)
    whole = np.empty((scan.height if keep else 0, scan.width, 3), np.uint16)
    for row in range(0, scan.height, ROWS):
        height = min(ROWS, scan.height - row)
        part = scan.read(Window(row=row, column=0, height=height, width=scan.width))
        if keep:
            whole[row : row + height] = part
    scan.close()
    return whole


if __name__ == "__main__":
    if "--task" in sys.argv:
        _tell(json.dumps(run_task(_options())))
    else:
        main()
