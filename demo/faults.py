"""What a scanner does to the light, each effect a function of arrays.

Pictures are linear float32 (H, W, 3), changed in place where that saves
memory and returned.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from colormatch.colour.transfer import encode_srgb
from colormatch.model import FloatArray

from .geometry import SheetMap
from .settings import Crease, Lifted, ScannerModel, TileSettings

Picture = NDArray[np.float32]

STRAY_PITCH = 0.5
"""Pixel of the small picture on which stray light is computed, mm."""

STRAY_REACH = 100.0
"""Surroundings farther away than this send nothing, mm."""


def lighting(scanner: ScannerModel) -> tuple[FloatArray, FloatArray]:
    """Light along the carriage, shape (H, 1, 1), and along the lamp, (1, W, 1)."""
    rows, columns = scanner.shape
    side = np.linspace(-1, 1, columns, dtype=np.float32)
    along = 1 + scanner.tilt * np.linspace(-0.5, 0.5, rows, dtype=np.float32)
    if scanner.banding:
        waves = np.arange(rows) * 25.4 / scanner.ppi / scanner.banding_period
        along *= (1 + scanner.banding * np.sin(2 * np.pi * waves)).astype(np.float32)
    across = (1 - scanner.vignette * side**2) * (1 - 0.5 * scanner.lateral_slope * side)
    return along[:, None, None], across[None, :, None]


def stray_kernel(scanner: ScannerModel) -> FloatArray:
    """Weights of the surroundings on a grid of `STRAY_PITCH`, sum 1.

    An exponential for the near scale, an inverse cube for the far one.
    """
    half = int(STRAY_REACH / STRAY_PITCH)
    steps = np.arange(-half, half + 1) * STRAY_PITCH
    distance = np.hypot(steps[:, None], steps[None, :])
    near = np.exp(-distance / scanner.flare_near)
    far = (1 + (distance / scanner.flare_far) ** 2) ** -1.5 * (distance <= STRAY_REACH)
    share = scanner.flare_near_share
    return np.asarray(share * near / near.sum() + (1 - share) * far / far.sum())


def surroundings(light: Picture, scanner: ScannerModel) -> Picture:
    """Mean light round each place, weighted by `stray_kernel`, (H, W, 3)."""
    import cv2
    from scipy.signal import fftconvolve

    rows, columns = light.shape[:2]
    width, height = (round(side / STRAY_PITCH) for side in scanner.glass)
    small = cv2.resize(light, (width, height), interpolation=cv2.INTER_AREA)
    kernel = stray_kernel(scanner)
    half = kernel.shape[0] // 2
    pad = ((half, half), (half, half), (0, 0))
    wide = np.pad(small, pad, constant_values=scanner.bezel)
    blurred = fftconvolve(wide, kernel[..., None], mode="valid", axes=(0, 1)).astype(np.float32)
    return np.asarray(cv2.resize(blurred, (columns, rows), interpolation=cv2.INTER_LINEAR))


def scattered(light: Picture, scanner: ScannerModel) -> Picture:
    """Light with its surroundings shining in: ``(1 - f) x + f K x`` and the cavity."""
    if scanner.flare == 0 and scanner.cavity == 0:
        return light
    around = surroundings(light, scanner)
    boost = 1 / (1 - scanner.cavity * around)
    light *= 1 - scanner.flare
    light += scanner.flare * around
    light *= boost
    return light


def edge_distance(
    painting: SheetMap, size: tuple[float, float], side: str, shape: tuple[int, int]
) -> tuple[FloatArray, FloatArray]:
    """Distance of every pixel from one side of the painting, and place along it, mm."""
    wide, tall = painting.grid(range(shape[0]), shape[1])
    x, y = wide.astype(np.float32), tall.astype(np.float32)
    width, height = size
    match side:
        case "left":
            return x, y
        case "right":
            return width - x, y
        case "top":
            return y, x
        case "bottom":
            return height - y, x
    raise ValueError(f"side must be left, right, top or bottom (got {side!r})")


OUTWARD = {"left": (-1.0, 0.0), "right": (1.0, 0.0), "top": (0.0, -1.0), "bottom": (0.0, 1.0)}


def crease_shadow(
    crease: Crease, painting: SheetMap, size: tuple[float, float], shape: tuple[int, int]
) -> Picture:
    """Factor (H, W, 3) of a fold: one flank in shadow, the other facing the lamp."""
    inside, along = edge_distance(painting, size, crease.side, shape)
    bend = 0.5 * np.sin(along / 23) + 0.2 * np.sin(along / 6.1)
    from_fold = inside - crease.distance - bend
    facing = float((painting.placing.rotation @ np.array(OUTWARD[crease.side]))[1])
    turn = np.tanh(np.sign(facing) * from_fold / 0.1)
    fade = np.exp(-np.abs(from_fold) / crease.reach)
    shadow = fade * (abs(facing) * np.clip(turn, 0, 1) + 0.4 * (1 - abs(facing)))
    glow = fade**1.4 * abs(facing) * np.clip(-turn, 0, 1)
    length = size[0] if crease.side in ("top", "bottom") else size[1]
    on_paint = ((inside > 0) & (along > 0) & (along < length))[..., None]
    tint = np.array([0.93, 1.0, 1.0], np.float32) * np.array([1.0, 1.0, 1.06], np.float32)
    factor = 1 - crease.depth * tint * shadow[..., None] + crease.bright * glow[..., None]
    return np.where(on_paint, factor, 1).astype(np.float32)


def lift(
    light: Picture, lifted: Lifted, painting: SheetMap, size: tuple[float, float], ppi: float
) -> Picture:
    """Blur and darken the zone that does not touch the glass."""
    import cv2

    inside, along = edge_distance(painting, size, lifted.side, light.shape[:2])
    length = size[0] if lifted.side in ("top", "bottom") else size[1]
    on_paint = (inside > 0) & (along > 0) & (along < length)
    from_rim = np.clip((inside - lifted.start) / lifted.width, 0, 1)
    gap = (1 - from_rim) ** 1.5 * on_paint
    rows, columns = np.nonzero(gap)
    if not len(rows):
        return light
    part = np.s_[rows.min() : rows.max() + 1, columns.min() : columns.max() + 1]
    share, sharp = gap[part].astype(np.float32) * 3, light[part]
    blurs = [sharp]
    for step in (1, 2, 3):
        sigma = max(lifted.blur * ppi / 25.4 * step / 3, 1e-3)
        blurs.append(np.asarray(cv2.GaussianBlur(sharp, (0, 0), sigma), np.float32))
    result = np.zeros_like(sharp)
    for step, picture in enumerate(blurs):
        result += np.clip(1 - np.abs(share - step), 0, 1)[..., None] * picture
    light[part] = result * (1 - lifted.dark * share / 3)[..., None]
    return light


def soiled(light: Picture, tile: TileSettings, ppi: float, rng: np.random.Generator) -> Picture:
    """Dust and hairs on the glass, streaks along the carriage."""
    import cv2

    rows, columns = light.shape[:2]
    mm, cover = ppi / 25.4, np.zeros((rows, columns), np.uint8)
    tone = rng.uniform(0.25, 0.7)
    for _ in range(tile.dust):
        centre = (int(rng.uniform(0, columns) * 16), int(rng.uniform(0, rows) * 16))
        radius = int(max(0.4, rng.exponential(0.09) * mm) * 16)
        cv2.circle(cover, centre, radius, int(rng.uniform(90, 255)), -1, cv2.LINE_AA, 4)
    for _ in range(tile.hairs):
        turn = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0.03, 0.22, 50))
        steps = 0.2 * mm * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        path = (np.cumsum(steps, axis=0) + rng.uniform(0, 1, 2) * (columns, rows)) * 16
        thick = max(1, round(0.05 * mm))
        cv2.polylines(cover, [path.astype(np.int32)], False, 190, thick, cv2.LINE_AA, 4)
    share = (cover.astype(np.float32) / 255)[..., None]
    light += share * (np.float32(tone) - light)
    for _ in range(tile.streaks):
        column, width = int(rng.integers(columns)), int(rng.integers(1, 4))
        light[:, column : column + width] *= np.float32(
            1 + rng.choice([-1, 1]) * rng.uniform(*tile.streak_depth)
        )
    return light


def glare(
    light: Picture,
    count: int,
    where: NDArray[np.bool_],
    ppi: float,
    rng: np.random.Generator,
    speck: float = 1.0,
) -> Picture:
    """Specks of reflected lamp on the paint, brighter than white."""
    import cv2

    rows, columns = np.nonzero(where[::8, ::8])
    if not count or not len(rows):
        return light
    specks = np.zeros(light.shape[:2], np.float32)
    for pick in rng.integers(len(rows), size=count):
        centre = (int(columns[pick]) * 8 * 16, int(rows[pick]) * 8 * 16)
        size = max(0.5, speck * rng.uniform(0.04, 0.15) * ppi / 25.4)
        axes = (int(size * 16 * rng.uniform(1, 3)), int(size * 16))
        cv2.ellipse(
            specks, centre, axes, rng.uniform(-15, 15), 0, 360, rng.uniform(0.3, 1.5), -1, 8, 4
        )
    light += cv2.GaussianBlur(specks, (0, 0), 0.6)[..., None]
    return light


def noisy(light: Picture, scanner: ScannerModel, rng: np.random.Generator) -> Picture:
    """Add read noise and shot noise."""
    if scanner.read_noise == 0 and scanner.shot_noise == 0:
        return light
    variance = scanner.read_noise**2 + scanner.shot_noise**2 * np.clip(light, 0, None)
    noise = rng.standard_normal(light.shape, dtype=np.float32)
    noise *= np.sqrt(variance, dtype=np.float32)
    light += noise
    return light


def tone_curve(light: FloatArray, tone: str, gamma: float) -> FloatArray:
    """Encode linear light, 0 to 1, as the scanner's software does."""
    if tone == "linear":
        return light
    if tone == "srgb":
        return encode_srgb(light)
    if tone == "power":
        return light ** np.float32(1 / gamma)
    if tone == "s-curve":
        base = light ** np.float32(1 / gamma)
        return np.asarray(base + np.float32(0.45) * base * (1 - base) * (2 * base - 1))
    raise ValueError(f"tone must be linear, power, srgb or s-curve (got {tone!r})")


def quantised(light: Picture, scanner: ScannerModel) -> NDArray[np.uint8] | NDArray[np.uint16]:
    """Clip, encode and round to the scanner's bits, block by block."""
    top = 255 if scanner.bits == 8 else 65535
    codes = np.empty(light.shape, np.uint8 if scanner.bits == 8 else np.uint16)
    # Rows above and below that sharpening looks at.
    reach = int(np.ceil(4 * scanner.sharpen_radius)) if scanner.sharpen else 0
    for row in range(0, len(light), 256):
        first = max(row - reach, 0)
        block = encoded(light[first : row + 256 + reach], scanner)[row - first :][:256]
        codes[row : row + 256] = block * top + 0.5
    return codes


def encoded(light: FloatArray, scanner: ScannerModel) -> FloatArray:
    """Apply levels, curve and sharpening to linear light, as a driver's software does."""
    import cv2

    levelled = (light - np.float32(scanner.black)) / np.float32(1 - scanner.black)
    values = tone_curve(np.clip(levelled, 0, 1), scanner.tone, scanner.gamma)
    if scanner.sharpen == 0:
        return values
    soft = cv2.GaussianBlur(values, (0, 0), scanner.sharpen_radius)
    return np.asarray(np.clip(values + np.float32(scanner.sharpen) * (values - soft), 0, 1))
