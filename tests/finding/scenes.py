"""Invented scans of invented paintings with strips in them, and the truth about them.

Drawn from the layout alone, not by the project's own drawing: rings by sub-sampling
8 x 8 points in each pixel an edge crosses, so that a centre is true to a few
thousandths of a pixel.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import cv2
import numpy as np
from numpy.typing import NDArray

from colormatch.finding.poses import applied
from colormatch.model import RING_EDGES, FloatArray, Layout, Reference, Symbol, Window
from colormatch.symbols.micro import QUIET, modules

Codes = NDArray[np.uint8] | NDArray[np.uint16]

SRGB_FROM_XYZ = np.array(
    [
        [3.1338561, -1.6168667, -0.4906146],
        [-0.9787684, 1.9161415, 0.0334540],
        [0.0719453, -0.2289914, 1.4052427],
    ]
)
"""For D50, of four and more decimals (B. Lindbloom, RGB/XYZ matrices)."""


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What is asked of a scan; lengths in pixels of the scan, angles in degrees."""

    width: int
    height: int
    ppi: float
    blur: float = 0.7
    noise: float = 0.006
    gradient: float = 0.1
    gamma: float = 2.0
    bits: int = 8
    dust: int = 40
    hairs: int = 3
    painting: str = "mixed"


@dataclass(kw_only=True)
class Canvas:
    """Linear light of a scene, growing as things are laid on it."""

    scene: Scene
    light: FloatArray
    rng: np.random.Generator
    covers: list[FloatArray] = field(default_factory=list)


def any_scanner(
    sides: tuple[float, float], ppi: float, painting: str, rng: np.random.Generator
) -> Scene:
    """Choose which way the picture lies, and the scanner's faults."""
    width, height = (int(side) for side in (sides if rng.random() >= 0.5 else sides[::-1]))
    return Scene(
        width=width,
        height=height,
        ppi=ppi,
        blur=rng.uniform(0.4, 0.9 if ppi < 250 else 1.6),
        noise=rng.uniform(0, 0.012),
        gradient=rng.uniform(0, 0.25),
        gamma=rng.uniform(1.0, 2.4),
        bits=int(rng.choice([8, 16])),
        dust=int(rng.uniform(0, 400)),
        hairs=int(rng.uniform(0, 8)),
        painting=painting,
    )


def canvas(scene: Scene, rng: np.random.Generator) -> Canvas:
    """Paint the picture under everything else."""
    height, width = scene.height, scene.width
    base = rng.uniform(0.1, 0.9, 3)
    light = np.empty((height, width, 3), np.float32)
    ramp = np.linspace(0.7, 1.3, width, dtype=np.float32)[None, :, None]
    light[:] = base.astype(np.float32) * ramp
    per_mm = scene.ppi / 25.4
    area = width * height / per_mm**2
    shapes = int(np.clip(area / 60, 20, 700))
    for _ in range(shapes):
        _shape(light, per_mm, scene.painting, rng)
    coarse = rng.normal(1, 0.08, (height // 16 + 2, width // 16 + 2)).astype(np.float32)
    texture = cv2.resize(coarse, (width, height), interpolation=cv2.INTER_CUBIC)
    np.clip(light * texture[..., None], 0.005, 0.95, out=light)
    return Canvas(scene=scene, light=light, rng=rng)


def _shape(light: FloatArray, per_mm: float, painting: str, rng: np.random.Generator) -> None:
    """Add one coloured thing to the painting."""
    height, width = light.shape[:2]
    centre = (int(rng.uniform(0, width)), int(rng.uniform(0, height)))
    colour = tuple(float(v) for v in rng.uniform(0.01, 0.9, 3) ** 1.5)
    kind = rng.choice(["circle", "box", "rings", "grid"], p=[0.3, 0.3, 0.3, 0.1])
    if painting == "rings":
        kind = "rings"
    size = int(rng.uniform(1, 12) * per_mm)
    if kind == "circle":
        cv2.circle(light, centre, size, colour, -1, cv2.LINE_8)
    elif kind == "box":
        corner = (centre[0] + size, centre[1] + int(size * rng.uniform(0.3, 2)))
        cv2.rectangle(light, centre, corner, colour, -1)
    elif kind == "rings":
        _painted_rings(light, centre, per_mm, rng)
    else:
        _painted_grid(light, centre, per_mm, rng)


def _painted_rings(
    light: FloatArray, centre: tuple[int, int], per_mm: float, rng: np.random.Generator
) -> None:
    """Paint concentric rings, often of the marks' size and sometimes their very pattern."""
    size = rng.uniform(2.5, 4.5) * per_mm
    plain = rng.random() < 0.4
    pair = [(0.03,) * 3, (0.8,) * 3] if plain else [_colour(rng), _colour(rng)]
    radii: list[float] = [1, 0.74, 0.46, 0.17]
    if rng.random() < 0.5:
        radii = sorted(rng.uniform(0.1, 1, rng.integers(2, 6)), reverse=True)
    for i, radius in enumerate(radii):
        cv2.circle(light, centre, max(1, int(radius * size)), pair[i % 2], -1)


def _colour(rng: np.random.Generator) -> tuple[float, float, float]:
    red, green, blue = rng.uniform(0.02, 0.85, 3)
    return float(red), float(green), float(blue)


def _painted_grid(
    light: FloatArray, centre: tuple[int, int], per_mm: float, rng: np.random.Generator
) -> None:
    """Paint a grid of coloured boxes."""
    pitch = int(6.5 * per_mm)
    for i in range(rng.integers(3, 9)):
        for j in range(3):
            corner = (centre[0] + i * pitch, centre[1] + j * pitch)
            far = (corner[0] + int(6 * per_mm), corner[1] + int(6 * per_mm))
            colour = tuple(float(v) for v in rng.uniform(0.01, 0.9, 3))
            cv2.rectangle(light, corner, far, colour, -1)


def pose(
    layout: Layout,
    centre: tuple[float, float],
    ppi: float,
    degrees: float,
    stretch: tuple[float, float] = (1.0, 1.0),
) -> FloatArray:
    """Give the map from strip millimetres to pixels; the stretch is the scanner's."""
    turn = np.deg2rad(degrees)
    rotation = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
    linear = np.diag(stretch) @ rotation * (ppi / 25.4)
    middle = np.array([layout.width, layout.height]) / 2
    return np.column_stack([linear, np.array(centre) - linear @ middle])


def printed(reference: Reference, rng: np.random.Generator) -> dict[str, FloatArray]:
    """Give the light of each patch as a printer and a scanner might leave it.

    Ink never quite black, paper never quite white, primaries that mix.
    """
    rgb = np.clip(reference.xyz @ SRGB_FROM_XYZ.T, 0, 1)
    mix = np.eye(3) * 0.8 + rng.uniform(0, 0.12, (3, 3))
    mix /= mix.sum(axis=1, keepdims=True)
    black = rng.uniform(0.01, 0.04, 3)
    white = rng.uniform(0.75, 0.92) * rng.uniform(0.93, 1.0, 3)
    seen = black + (white - black) * np.clip(rgb @ mix.T, 0, 1) ** rng.uniform(0.9, 1.25)
    seen *= np.exp(rng.normal(0, 0.04, seen.shape))
    for i in range(len(rgb)):
        if rgb[i].min() > 0.99:
            seen[i] = white
    return {name: value.astype(np.float32) for name, value in zip(reference.ids, seen, strict=True)}


def lay_strip(
    sheet: Canvas,
    layout: Layout,
    light: dict[str, FloatArray],
    px_from_mm: FloatArray,
    serial: str = "",
) -> None:
    """Lay a strip on the scene; without a serial it bears no symbol."""
    neutrals = [light[p.id] for p in layout.patches if p.role == "neutral"]
    papers = [light[p.id] for p in layout.patches if p.role == "paper"]
    black = min(neutrals, key=lambda value: float(value.sum()))
    ground = {"white": papers[0], "black": black, "grey": 0.5 * (papers[0] + black) * 0.43}
    for item in layout.fields:
        box(sheet.light, px_from_mm, (item.x, item.y, item.width, item.height), ground[item.kind])
    for patch in layout.patches:
        place = (patch.x, patch.y, patch.width, patch.height)
        box(sheet.light, px_from_mm, place, light[patch.id])
    for mark in layout.marks:
        edges = RING_EDGES[mark.kind]
        discs = [(edge, ("black", "white")[i % 2]) for i, edge in enumerate(edges)]
        if edges[0] < 1:
            discs.insert(0, (1.0, "white"))
        for share, colour in discs:
            radius = share * mark.diameter / 2
            _disc(sheet.light, px_from_mm, (mark.x, mark.y), radius, ground[colour])
    if serial and layout.symbol is not None:
        _modules(sheet.light, px_from_mm, layout.symbol, serial, ground)


def _window(
    light: FloatArray, px_from_mm: FloatArray, points: FloatArray
) -> tuple[slice, slice, FloatArray]:
    """Give rows and columns round some points, and the pixels' places in millimetres."""
    px = applied(px_from_mm, points)
    low = np.clip(np.floor(px.min(axis=0)).astype(int) - 1, 0, light.shape[1::-1])
    high = np.clip(np.ceil(px.max(axis=0)).astype(int) + 2, 0, light.shape[1::-1])
    x, y = np.meshgrid(np.arange(low[0], high[0]), np.arange(low[1], high[1]))
    inverse = np.linalg.inv(px_from_mm[:, :2])
    mm = (np.stack([x, y], axis=-1) - px_from_mm[:, 2]) @ inverse.T
    return slice(low[1], high[1]), slice(low[0], high[0]), mm


def box(
    light: FloatArray, px_from_mm: FloatArray, place: tuple[float, ...], colour: FloatArray
) -> None:
    """Fill a box, ``(x, y, width, height)`` in mm of the sheet, each pixel by its share."""
    x, y, width, height = place
    ends = np.array([[x, y], [x + width, y], [x + width, y + height], [x, y + height]])
    rows, columns, mm = _window(light, px_from_mm, ends)
    per_mm = np.sqrt(abs(np.linalg.det(px_from_mm[:, :2])))
    across = (width / 2 - np.abs(mm[..., 0] - x - width / 2)) * per_mm
    down = (height / 2 - np.abs(mm[..., 1] - y - height / 2)) * per_mm
    share = np.clip(across + 0.5, 0, 1) * np.clip(down + 0.5, 0, 1)
    _mix(light[rows, columns], share, colour)


def _disc(
    light: FloatArray,
    px_from_mm: FloatArray,
    centre: tuple[float, float],
    radius: float,
    colour: FloatArray,
) -> None:
    around = np.array(centre) + radius * np.array([[-1, -1], [1, -1], [1, 1], [-1, 1]])
    rows, columns, mm = _window(light, px_from_mm, around)
    away = mm - np.array(centre)
    per_mm = np.sqrt(abs(np.linalg.det(px_from_mm[:, :2])))
    inside = (radius - np.hypot(away[..., 0], away[..., 1])) * per_mm
    share = (inside > 0).astype(np.float32)
    edge = np.abs(inside) < 1
    grid = (np.arange(8) + 0.5) / 8 - 0.5
    sub = np.stack(np.meshgrid(grid, grid), axis=-1).reshape(-1, 2)
    sub_mm = sub @ np.linalg.inv(px_from_mm[:, :2]).T
    points = away[edge][:, None] + sub_mm
    share[edge] = (np.hypot(points[..., 0], points[..., 1]) < radius).mean(axis=1)
    _mix(light[rows, columns], share, colour)


def _modules(
    light: FloatArray,
    px_from_mm: FloatArray,
    symbol: Symbol,
    serial: str,
    ground: dict[str, FloatArray],
) -> None:
    """Lay the symbol and the bare paper round it; 8 x 8 points in each pixel."""
    dark = np.pad(modules(f"{symbol.design} {serial}"), QUIET)
    module = symbol.side / (len(dark) - 2 * QUIET)
    corner = np.array([symbol.x, symbol.y]) - QUIET * module
    side = module * len(dark)
    box(light, px_from_mm, (corner[0], corner[1], side, side), ground["white"])
    around = corner + side * np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    rows, columns, mm = _window(light, px_from_mm, around)
    grid = (np.arange(8) + 0.5) / 8 - 0.5
    sub = np.stack(np.meshgrid(grid, grid), axis=-1).reshape(-1, 2)
    points = mm[..., None, :] + sub @ np.linalg.inv(px_from_mm[:, :2]).T
    place = np.floor((points - corner) / module).astype(int)
    inside = ((place >= 0) & (place < len(dark))).all(axis=-1)
    x, y = np.moveaxis(np.clip(place, 0, len(dark) - 1), -1, 0)
    _mix(light[rows, columns], (dark[y, x] & inside).mean(axis=-1), ground["black"])


def _mix(view: FloatArray, share: FloatArray, colour: FloatArray) -> None:
    view += (colour - view) * share[..., None].astype(np.float32)


def cover(
    sheet: Canvas, px_from_mm: FloatArray, centre: tuple[float, float], radius: float
) -> None:
    """Lay a scrap of something over a disc of the strip."""
    colour = sheet.rng.uniform(0.02, 0.9, 3).astype(np.float32)
    _disc(sheet.light, px_from_mm, centre, radius, colour)


def scanned(sheet: Canvas, gain: float = 1.0) -> Codes:
    """Scan the scene: dust, hairs, light that falls off, blur, noise, tone, codes."""
    scene, rng = sheet.scene, sheet.rng
    light = sheet.light
    _dirt(light, scene, rng)
    fall = 1 - scene.gradient * np.linspace(0, 1, scene.width, dtype=np.float32)
    light *= (gain * fall)[None, :, None]
    if scene.blur:
        cv2.GaussianBlur(light, (0, 0), scene.blur, dst=light, borderType=cv2.BORDER_REPLICATE)
    np.clip(light, 0, 1, out=light)
    np.power(light, np.float32(1 / scene.gamma), out=light)
    pattern = rng.normal(0, scene.noise, (509, 503, 3)).astype(np.float32)
    for row in range(0, scene.height, 509):
        for column in range(0, scene.width, 503):
            block = light[row : row + 509, column : column + 503]
            block += pattern[: block.shape[0], : block.shape[1]]
    top = 2**scene.bits - 1
    codes = np.round(np.clip(light, 0, 1) * top)
    return np.asarray(codes, np.uint8) if scene.bits == 8 else np.asarray(codes, np.uint16)


def _dirt(light: FloatArray, scene: Scene, rng: np.random.Generator) -> None:
    """Strew dust and lay hairs."""
    per_mm = scene.ppi / 25.4
    for _ in range(scene.dust):
        spot = (int(rng.uniform(0, scene.width)), int(rng.uniform(0, scene.height)))
        tone = float(rng.choice([0.02, 0.7]))
        cv2.circle(light, spot, max(1, int(rng.uniform(0.04, 0.25) * per_mm)), (tone,) * 3, -1)
    for _ in range(scene.hairs):
        start = rng.uniform(0, 1, 2) * (scene.width, scene.height)
        bends = np.cumsum(rng.normal(0, 5 * per_mm, (6, 2)), axis=0)
        path = np.round(start + bends).astype(np.int32)
        thick = max(1, int(0.08 * per_mm))
        cv2.polylines(light, [path], False, (0.04, 0.03, 0.02), thick)


def overview_of(picture: Codes, step: int) -> FloatArray:
    """Give block means of encoded values, as float32."""
    rows, columns = picture.shape[0] // step, picture.shape[1] // step
    cut = picture[: rows * step, : columns * step] / np.float32(np.iinfo(picture.dtype).max)
    blocks = cut.reshape(rows, step, columns, step, 3)
    return np.asarray(blocks.mean(axis=(1, 3), dtype=np.float32))


class Windows:
    """A picture read by window, and how much of it was read."""

    def __init__(self, picture: Codes) -> None:
        self.picture = picture
        self.pixels = 0

    def __call__(self, window: Window) -> Codes:
        """Read a window; it must lie inside the picture."""
        height, width = self.picture.shape[:2]
        assert 0 <= window.row <= window.row + window.height <= height
        assert 0 <= window.column <= window.column + window.width <= width
        self.pixels += window.height * window.width
        rows = slice(window.row, window.row + window.height)
        return self.picture[rows, window.column : window.column + window.width]
