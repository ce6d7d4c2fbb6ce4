"""What a merge writes beside the picture when asked: tiles, and maps for the eye."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.encoding import Encoder
from colormatch.colour.spaces import RGBSpace, rgb_space
from colormatch.files.metadata import PictureFacts
from colormatch.files.profiles import space_profile
from colormatch.files.writing import write_picture
from colormatch.job.folders import make_folder
from colormatch.job.matching import Corrected, GamutCounter, blocks, output_paths
from colormatch.job.merge_light import Levelled
from colormatch.job.merge_seams import Joined, levelled_small
from colormatch.job.merge_tiles import MergeTile
from colormatch.job.merge_views import Maps
from colormatch.job.options import MergeOptions
from colormatch.joining.records import UNCOVERED
from colormatch.joining.warping import stretched
from colormatch.model import FloatArray, Progress, Window
from colormatch.placing.records import Placement

MAPS = ("seams.png", "levelling.png")
FULL_TINT_PERCENT = 5.0
"""Change of light that gets the full tint in the map of the levelling."""
SHADES = ((0.90, 0.62, 0.0), (0.34, 0.71, 0.91), (0.0, 0.62, 0.45), (0.80, 0.47, 0.65))
"""Tints that stay apart for colour-blind eyes (after M. Okabe and K. Ito, 2002; from memory)."""


@dataclass(frozen=True, kw_only=True, eq=False)
class LevelledCorrection:
    """A tile's correction with its levelling, for `colormatch.job.matching.blocks`."""

    wide: Corrected
    gain: NDArray[np.float32]
    gain_step: float

    def apply(
        self, block: NDArray[np.uint8] | NDArray[np.uint16], first_row: int
    ) -> NDArray[np.float32]:
        """Turn encoded rows into matched, levelled linear light."""
        light = self.wide.apply(block, first_row)
        window = Window(row=first_row, column=0, height=block.shape[0], width=block.shape[1])
        light *= stretched(self.gain, self.gain_step, window)
        return light


def extra_paths(paths: Sequence[Path], options: MergeOptions) -> list[Path]:
    """Name everything that would be written beside the picture."""
    found = []
    if options.maps is not None:
        found += [options.maps / name for name in MAPS]
    if options.tiles_too is not None:
        tiles = replace(options, out=options.tiles_too, scanner_profiles=False)
        found += output_paths(paths, tiles)
    return found


def write_tiles(
    tiles: Sequence[MergeTile], levelled: Levelled, options: MergeOptions, progress: Progress
) -> None:
    """Write every tile matched and levelled, same pixels as its scan."""
    if options.tiles_too is None:
        return
    space = rgb_space(options.space)
    targets = extra_paths([t.scan.path for t in tiles], replace(options, maps=None))
    make_folder(options.tiles_too)
    for index, (tile, out) in enumerate(zip(tiles, targets, strict=True)):
        corrected = LevelledCorrection(
            wide=tile.correction.widened(tile.scan.width),
            gain=levelled.gains[index].gain,
            gain_step=levelled.steps[index],
        )
        write_picture(
            out,
            blocks(tile.scan, corrected, Encoder(space, options.depth), GamutCounter(space)),
            width=tile.scan.width,
            height=tile.scan.height,
            bits=options.depth,
            format=options.format,
            profile=space_profile(space, options.icc_version),
            ppi=tile.ppi,
            facts=PictureFacts(
                title=options.title, creator=options.creator, copyright=options.copyright
            ),
            compression=options.compression,
            force=options.force,
            progress=progress,
        )


def draw_maps(
    tiles: Sequence[MergeTile],
    placement: Placement,
    levelled: Levelled,
    joined: Joined,
    options: MergeOptions,
) -> Maps | None:
    """Draw where each place comes from, and what levelling did there, if wanted."""
    if options.maps is None and options.report is None:
        return None
    grey, change = _canvas_grey(tiles, placement, levelled, joined, rgb_space(options.space))
    return Maps(
        seams=seam_map(grey, joined.labels),
        levelling=level_map(grey, change) if options.maps is not None else None,
        grey=grey,
    )


def write_maps(maps: Maps | None, options: MergeOptions) -> None:
    """Leave the maps in the folder named for them."""
    if options.maps is None or maps is None or maps.levelling is None:
        return
    make_folder(options.maps)
    for name, picture in zip(MAPS, (maps.seams, maps.levelling), strict=True):
        _write_png(options.maps / name, picture, options.force)


def _canvas_grey(
    tiles: Sequence[MergeTile],
    placement: Placement,
    levelled: Levelled,
    joined: Joined,
    space: RGBSpace,
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Luminance of the joined picture in small, and the change by levelling in percent."""
    import cv2

    grid, labels = joined.grid, joined.labels
    grey = np.ones(labels.shape, np.float32)
    change = np.zeros(labels.shape, np.float32)
    weights = space.xyz_from_rgb[1:2].astype(np.float32)
    for index, tile in enumerate(tiles):
        rows, columns = (np.flatnonzero((labels == index).any(axis=axis)) for axis in (1, 0))
        if not len(rows):
            continue
        part = slice(rows[0], rows[-1] + 1), slice(columns[0], columns[-1] + 1)
        mine = labels[part] == index
        points = np.stack(
            np.meshgrid(np.arange(part[1].start, part[1].stop), np.arange(rows[0], rows[-1] + 1)),
            axis=-1,
        )
        step = tile.opened.step
        at = (placement.scan_from_canvas(index, grid.canvas_of(points)) - (step - 1) / 2) / step
        x, y = at[..., 0].astype(np.float32), at[..., 1].astype(np.float32)
        here = np.asarray(cv2.transform(levelled_small(tile, index, levelled), weights))
        shown = np.asarray(cv2.remap(here, x, y, cv2.INTER_LINEAR))
        grey[part][mine] = np.clip(shown, 0, 1)[mine]
        ratio = np.float32(step / levelled.steps[index])
        moved = cv2.remap(
            levelled.gains[index].gain.mean(axis=2), x * ratio, y * ratio, cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )  # fmt: skip
        change[part][mine] = (np.asarray(moved)[mine] - 1) * 100
    return grey, change


def seam_map(grey: NDArray[np.float32], labels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Tint each tile's part, and draw the seams white on black: linear RGB."""
    picture = grey[..., None].repeat(3, axis=2) * np.float32(0.75)
    for index in np.unique(labels[labels != UNCOVERED]):
        tint = 0.25 * np.array(SHADES[int(index) % len(SHADES)], np.float32) ** 2
        picture[labels == index] += tint
    seam = np.zeros(labels.shape, dtype=bool)
    seam[:, 1:] |= labels[:, 1:] != labels[:, :-1]
    seam[1:] |= labels[1:] != labels[:-1]
    picture[_thicker(seam, 2)] = 0.0
    picture[seam] = 1.0
    return np.asarray(picture)


def level_map(grey: NDArray[np.float32], change: NDArray[np.float32]) -> NDArray[np.float32]:
    """Tint orange what was made lighter and blue what was made darker: linear RGB."""
    share = np.clip(change / np.float32(FULL_TINT_PERCENT), -1, 1)[..., None]
    lighter, darker = (np.array(shade, np.float32) ** 2 for shade in SHADES[:2])
    tint = np.where(share > 0, lighter, darker)
    full = np.float32(0.8) * np.abs(share)
    return np.asarray(grey[..., None] * (1 - full) + full * tint)


def _thicker(mask: NDArray[np.bool_], reach: int) -> NDArray[np.bool_]:
    import cv2

    kernel = np.ones((2 * reach + 1, 2 * reach + 1), np.uint8)
    return np.asarray(cv2.dilate(mask.astype(np.uint8), kernel)) > 0


def _write_png(path: Path, picture: FloatArray, force: bool) -> None:
    space: RGBSpace = rgb_space("srgb")
    codes = np.round(space.encode(np.clip(picture, 0, 1)) * 255).astype(np.uint8)

    def whole() -> Iterator[NDArray[np.uint8]]:
        yield codes

    write_picture(
        path,
        whole(),
        width=codes.shape[1],
        height=codes.shape[0],
        bits=8,
        format="png",
        profile=space_profile(space),
        force=force,
    )
