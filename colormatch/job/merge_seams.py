"""Joining in a merge: the canvas in small, evidence, and where the seams run."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.spaces import RGBSpace
from colormatch.job.avoided import Avoided, avoided_places
from colormatch.job.merge_light import Levelled
from colormatch.job.merge_tiles import MergeTile
from colormatch.joining.edges import darker_edges
from colormatch.joining.evidence import measure_sharpness, softness_maps
from colormatch.joining.lifted import soft_places
from colormatch.joining.places import lattice
from colormatch.joining.records import Grid, GridTile, Remark, pairs_of
from colormatch.joining.refining import Seams, refine
from colormatch.joining.rims import rim_filled
from colormatch.joining.seams import label_map
from colormatch.joining.shadows import judge_shadows
from colormatch.joining.sources import RenderTile
from colormatch.joining.warping import resampled, stretched
from colormatch.model import FloatArray, Progress, Regions, Window
from colormatch.placing.records import Placement

GRID_PPI = 75.0
"""Resolution of the canvas in small."""
GRID_KNOTS = 8
"""Its pixels from one exactly computed place to the next."""
MOST_BLOCKS, LEAST_BLOCKS = 800, 120
"""Blocks at which sharpness is compared: in all overlaps together, and in each."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Joined:
    """Where the seams run, and what was noticed on the way."""

    grid: Grid
    seams: Seams
    remarks: tuple[Remark, ...]
    labels: NDArray[np.uint8]
    avoided: Avoided


def render_tiles(
    tiles: Sequence[MergeTile], placement: Placement, levelled: Levelled
) -> tuple[RenderTile, ...]:
    """Show all tiles to the renderer."""
    return tuple(_render_tile(tile, k, placement, levelled) for k, tile in enumerate(tiles))


def _render_tile(
    tile: MergeTile, index: int, placement: Placement, levelled: Levelled
) -> RenderTile:
    def scan_from_canvas(points: FloatArray) -> FloatArray:
        return placement.scan_from_canvas(index, points)

    return RenderTile(
        name=tile.name,
        width=tile.scan.width,
        height=tile.scan.height,
        bits=tile.scan.bits,
        read=tile.scan.read,
        correct=tile.correction.apply,
        scan_from_canvas=scan_from_canvas,
        gain=levelled.gains[index].gain,
        gain_step=levelled.steps[index],
    )


def join(
    tiles: Sequence[MergeTile],
    rendered: Sequence[RenderTile],
    placement: Placement,
    levelled: Levelled,
    space: RGBSpace,
    regions: Regions | None,
    progress: Progress,
) -> Joined:
    """Decide which tile every place is taken from."""
    grid = canvas_grid(placement)
    with ThreadPoolExecutor(2) as pool:
        small = list(
            pool.map(lambda k: grid_tile(tiles[k], k, grid, placement, levelled), range(len(tiles)))
        )
    reader = CanvasReader(rendered, placement, space)
    progress("comparing sharpness", 0.0)
    pairs = max(len(pairs_of(small)), 1)
    most = max(LEAST_BLOCKS, MOST_BLOCKS // pairs)
    evidence = measure_sharpness(grid, small, reader.luminance, most=most)
    softness = softness_maps(grid, small, evidence)
    verdict = judge_shadows(grid, small, softness)
    progress("choosing seams", 0.0)
    decided = label_map(
        grid,
        small,
        softness=softness,
        penalties=verdict.penalties,
        xyz_from_rgb=space.xyz_from_rgb,
        regions=regions,
        slips={(fit.first, fit.second): fit.rms for fit in placement.pairs},
    )
    labels, rim = rim_filled(decided.labels, grid.pixel)
    decided = replace(decided, labels=labels, rim=rim)
    seams = refine(
        grid, small, decided, reader.light, xyz_from_rgb=space.xyz_from_rgb, progress=progress
    )
    remarks = (
        *verdict.remarks,
        *soft_places(grid, small, softness),
        *darker_edges(grid, small),
        *decided.regions.remarks,
    )
    return Joined(
        grid=grid,
        seams=seams,
        remarks=tuple(remarks),
        labels=decided.labels,
        avoided=avoided_places(grid, small, verdict.penalties, softness),
    )


def canvas_grid(placement: Placement) -> Grid:
    """Choose the canvas in small."""
    linear = np.linalg.inv(placement.canvas_from_mm[:, :2])
    # Regions are given from the picture's own top left corner.
    corner = np.array([-0.5, -0.5])
    return Grid(
        canvas_height=placement.height,
        canvas_width=placement.width,
        step=max(1, round(placement.ppi / GRID_PPI)),
        mm_from_canvas=np.column_stack(
            [np.eye(2) * np.sqrt(abs(np.linalg.det(linear))), -corner * 25.4 / placement.ppi]
        ),
    )


def grid_tile(
    tile: MergeTile, index: int, grid: Grid, placement: Placement, levelled: Levelled
) -> GridTile:
    """Lay a tile's small picture, matched and levelled, on the canvas in small."""
    import cv2

    outline = placement.outline(index) / grid.step
    low = np.maximum(np.floor(outline.min(axis=0)).astype(int), 0)
    high = np.minimum(np.ceil(outline.max(axis=0)).astype(int), [grid.width, grid.height])
    high = np.maximum(high, low + 1)
    columns, rows = (grid.canvas_of(np.arange(*ends)) for ends in zip(low, high, strict=True))
    step = tile.opened.step
    x, y = (
        (at - np.float32((step - 1) / 2)) / np.float32(step)
        for at in placement.scan_map(index, columns, rows, every=GRID_KNOTS)
    )
    light = cv2.remap(
        levelled_small(tile, index, levelled),
        x,
        y,
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    # Beyond the scan's rim the mask is 0, so that nothing is shown there.
    shown = cv2.remap(
        tile.mask.astype(np.float32), x, y, cv2.INTER_LINEAR, borderMode=cv2.BORDER_CONSTANT
    )
    valid = np.asarray(shown) > 0.999
    return GridTile(
        name=tile.name,
        row=int(low[1]),
        column=int(low[0]),
        light=np.asarray(light, dtype=np.float32),
        valid=valid,
        edge_distance=_edge_distance(valid, grid.pixel),
    )


def _edge_distance(valid: NDArray[np.bool_], mm: float) -> NDArray[np.float32]:
    import cv2

    padded = np.pad(valid, 1).astype(np.uint8)
    distance = np.asarray(cv2.distanceTransform(padded, cv2.DIST_L2, 5))
    return (distance[1:-1, 1:-1] * mm).astype(np.float32)


def levelled_small(tile: MergeTile, index: int, levelled: Levelled) -> NDArray[np.float32]:
    """Give matched and levelled light on the grid of the small picture."""
    light = tile.small_light()
    step = tile.opened.step
    window = Window(row=0, column=0, height=light.shape[0], width=light.shape[1])
    gain = stretched(levelled.gains[index].gain, levelled.steps[index] / step, window)
    return np.asarray(light * gain, dtype=np.float32)


class CanvasReader:
    """Reads windows of the canvas at full resolution from one tile at a time."""

    def __init__(self, tiles: Sequence[RenderTile], placement: Placement, space: RGBSpace) -> None:
        self.tiles = tiles
        self.lattices = [
            lattice(t.scan_from_canvas, placement.width, placement.height) for t in tiles
        ]
        self.luminance_weights = space.xyz_from_rgb[1].astype(np.float32)

    def light(self, index: int, window: Window) -> FloatArray:
        """Linear light, float32 (height, width, 3); NaN where the tile is not."""
        return self._seen(index, window, lambda light: light)

    def luminance(self, index: int, window: Window) -> FloatArray:
        """Linear luminance, float32 (height, width); NaN where the tile is not."""
        return self._seen(index, window, self._summed)

    def _summed(self, light: NDArray[np.float32]) -> NDArray[np.float32]:
        import cv2

        return np.asarray(cv2.transform(light, self.luminance_weights[None]), dtype=np.float32)

    def _seen(
        self, index: int, window: Window, made: Callable[[NDArray[np.float32]], FloatArray]
    ) -> FloatArray:
        """Bring what is ``made`` of a tile's light onto the canvas."""
        tile = self.tiles[index]
        where = self.lattices[index].places(window)
        needed = where.needed(tile.width, tile.height)
        if needed is None:
            return made(np.full((window.height, window.width, 3), np.nan, dtype=np.float32))
        result = resampled(made(tile.light(needed)), where, needed.row, needed.column)
        result[~where.within(tile.usable)] = np.nan
        return result
