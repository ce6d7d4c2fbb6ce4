"""Seams of a picture of 130 megapixels: time and memory, stage by stage.

Run by hand: ``python -m tests.benchmarks.bench_seams [--full]``. Four tiles, two by
two, that overlap by 30 mm at 600 ppi; washes, strokes and grain with noise of
each scan's own. The canvas in small is made without the canvas at full size,
except for ``--full``, which refines the seams on light made anew in each window.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np

from colormatch.joining.evidence import measure_sharpness, softness_maps
from colormatch.joining.records import Grid, GridTile
from colormatch.joining.refining import refine
from colormatch.joining.seams import label_map
from colormatch.joining.shadows import judge_shadows
from colormatch.model import Window
from tests.joining.scenes import MM, STEP, XYZ_FROM_RGB, Array

SIDE = 11_400
"""Canvas pixels: 130 megapixels."""
SHARE = 710
"""Canvas pixels of overlap: 30 mm."""


def timed(name: str, work: Callable[[], Any]) -> Any:
    """Do some work and print how long it took and the most memory so far."""
    start = time.perf_counter()
    result = work()
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    line = f"{name:<28}{time.perf_counter() - start:6.2f} s   peak {peak:5.0f} MB\n"
    sys.stdout.write(line)
    return result


def painted(rng: np.random.Generator, side: int) -> Array:
    """Washes, strokes with hard edges, and grain, on the grid."""
    total = np.zeros((side, side), np.float32)
    for sigma, hardness in ((60, 1.0), (15, 4.0), (5, 4.0), (1, 0.3)):
        noise = cv2.GaussianBlur(rng.standard_normal((side, side), np.float32), (0, 0), sigma)
        total += hardness and np.tanh(hardness * noise / noise.std()) / 4
    tint = cv2.GaussianBlur(rng.standard_normal((side, side, 3), np.float32), (0, 0), 20)
    light: Array = 0.25 * np.exp(total[..., None] + 0.3 * tint / tint.std())
    return light.astype(np.float32)


def tiles_of(light: Array, rng: np.random.Generator) -> list[GridTile]:
    """Four tiles, each with its own noise, one with a shadow along its edge."""
    side, half = len(light), SHARE // STEP // 2
    low, high = (0, side // 2 + half), (side // 2 - half, side)
    tiles = []
    for k, (rows, columns) in enumerate((r, c) for r in (low, high) for c in (low, high)):
        part = light[slice(*rows), slice(*columns)]
        noisy = part * (1 + 0.003 * rng.standard_normal(part.shape, np.float32))
        mask = np.pad(np.ones(part.shape[:2], np.uint8), 1)
        distance = cv2.distanceTransform(mask, cv2.DIST_L2, 5)[1:-1, 1:-1] * STEP * MM
        if k == 0:
            noisy *= (1 - 0.2 * np.exp(-distance / 1.5))[..., None]
        tiles.append(
            GridTile(
                name=f"tile{k}",
                row=rows[0],
                column=columns[0],
                light=noisy.astype(np.float32),
                valid=np.ones(part.shape[:2], dtype=bool),
                edge_distance=distance.astype(np.float32),
            )
        )
    return tiles


def reader(light: Array, tiles: list[GridTile]) -> Callable[[int, Window], Array]:
    """Light at full resolution, enlarged from the grid, NaN where a tile is not."""

    def read(tile: int, window: Window) -> Array:
        rows = (np.arange(window.height) + window.row + 0.5) / STEP - 0.5
        columns = (np.arange(window.width) + window.column + 0.5) / STEP - 0.5
        x, y = np.meshgrid(columns.astype(np.float32), rows.astype(np.float32))
        out = np.asarray(
            cv2.remap(light, x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
        ).astype(np.float32)
        box = tiles[tile].box
        out[(y < box.top) | (y >= box.bottom) | (x < box.left) | (x >= box.right)] = np.nan
        return out

    return read


def main() -> None:
    """Run all stages."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--full", action="store_true", help="measure and refine at full size")
    full = parser.parse_args().full
    rng = np.random.default_rng(1)
    grid = Grid(
        canvas_height=SIDE,
        canvas_width=SIDE,
        step=STEP,
        mm_from_canvas=np.array([[MM, 0, MM / 2], [0, MM, MM / 2]]),
    )
    light = painted(rng, SIDE // STEP)
    tiles = tiles_of(light, rng)
    soft = [np.zeros(tile.valid.shape, np.float32) for tile in tiles]
    timed("(canvas made)", lambda: None)
    read = reader(light, tiles)
    if full:
        evidence = timed(
            "sharpness", lambda: measure_sharpness(grid, tiles, lambda k, w: read(k, w)[..., 1])
        )
        soft = timed("softness maps", lambda: softness_maps(grid, tiles, evidence))
    verdict = timed("shadows", lambda: judge_shadows(grid, tiles, soft))
    decided = timed(
        "label map",
        lambda: label_map(
            grid, tiles, softness=soft, penalties=verdict.penalties, xyz_from_rgb=XYZ_FROM_RGB
        ),
    )
    if full:
        seams = timed(
            "refine", lambda: refine(grid, tiles, decided, read, xyz_from_rgb=XYZ_FROM_RGB)
        )

        def all_labels() -> None:
            for row in range(0, SIDE - 255, 256):
                seams.labels(Window(row=row, column=0, height=256, width=SIDE))

        timed("labels of all rows", all_labels)
    remarks = [f"{r.kind}/{r.reason}" for r in verdict.remarks]
    kinds = {kind: remarks.count(kind) for kind in sorted(set(remarks))}
    sys.stdout.write(f"shares {decided.shares}, cut {len(decided.cut)}, remarks {kinds}\n")


if __name__ == "__main__":
    main()
