"""Invented paintings in small, scanned under light that is known exactly.

The light is written here in closed form (parabolas, sines, exponentials) and
shares no code with the splines that are to find it. Millimetres everywhere;
the glass has its lamp along x and its carriage's way along y.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray
from scipy import fft, ndimage

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.levelling.geometry import glass_map
from colormatch.levelling.records import Anchors, LevelTile, TileGain

Array = NDArray[np.float64]
GLASS = (216.0, 297.0)
PITCH = 0.5
"""Of the painting's own grid, mm."""
LOW, HIGH = 0.02, 0.85
"""Darkest and brightest paint, linear."""


def painting(rng: np.random.Generator, width: float, height: float) -> NDArray[np.float32]:
    """Linear light (H, W, 3): soft shapes of many sizes, brush texture, some flat paint."""
    shape = (round(height / PITCH) + 1, round(width / PITCH) + 1)
    broad = np.stack([random_field(rng, shape, 1.6) for _ in range(3)], axis=-1)
    common = random_field(rng, shape, 1.4)[..., None]
    texture = random_field(rng, shape, 0.6)[..., None]
    value = 0.9 * common + 0.45 * broad + 0.12 * texture
    share = 1.0 / (1.0 + np.exp(-1.3 * value))
    light = LOW * (HIGH / LOW) ** share
    return np.asarray(light, dtype=np.float32)


def random_field(rng: np.random.Generator, shape: tuple[int, int], slope: float) -> Array:
    """Noise of unit size whose amplitude falls as frequency to ``-slope``."""
    size = [fft.next_fast_len(n, real=True) for n in shape]
    radius = np.hypot(fft.fftfreq(size[0])[:, None], fft.rfftfreq(size[1])[None])
    gain = np.maximum(radius, 1.0 / 300.0) ** -slope * np.exp(-((radius / 0.4) ** 2))
    values = fft.irfft2(fft.rfft2(rng.standard_normal(size)) * gain, s=size)
    values = values[: shape[0], : shape[1]]
    return np.asarray((values - values.mean()) / values.std())


Light = Callable[[Array, Array], Array]
"""Log light (..., 3) at places along the lamp and along the way, mm."""


def dark(u: Array, v: Array) -> Array:
    return np.zeros((*np.broadcast(u, v).shape, 3))


def vignette(depth: float, *, power: float = 2.0, colour: float = 0.0) -> Light:
    """Light lost towards both ends of the lamp."""

    def light(u: Array, v: Array) -> Array:
        side = np.abs(2.0 * u / GLASS[0] - 1.0) + 0.0 * v
        channels = depth * np.array([1.0 + colour, 1.0, 1.0 - colour])
        return np.asarray(np.log1p(-channels * side[..., None] ** power))

    return light


def lateral_ramp(change: float) -> Light:
    """Light that rises by ``change`` from one end of the lamp to the other."""
    return lambda u, v: np.repeat((change * (u / GLASS[0] - 0.5) + 0 * v)[..., None], 3, axis=-1)


def tilt(change: float) -> Light:
    """Light that rises by ``change`` over the carriage's whole way."""
    return lambda u, v: np.repeat((change * (v / GLASS[1] - 0.5) + 0 * u)[..., None], 3, axis=-1)


def smooth(rng: np.random.Generator, size: float, shortest: float = 150.0) -> Light:
    """Sum of long waves, standard deviation ``size``, the same in all channels."""
    length = rng.uniform(shortest, 2 * shortest, 4)
    angle, phase = rng.uniform(0, 2 * np.pi, (2, 4))

    def light(u: Array, v: Array) -> Array:
        total = np.zeros(np.broadcast(u, v).shape)
        for w, a, p in zip(length, angle, phase, strict=True):
            total += np.sin(2 * np.pi * (u * np.cos(a) + v * np.sin(a)) / w + p)
        return np.repeat((size * total / np.sqrt(2.0))[..., None], 3, axis=-1)

    return light


def together(*lights: Light) -> Light:
    def light(u: Array, v: Array) -> Array:
        total = dark(u, v)
        for one in lights:
            total = total + one(u, v)
        return total

    return light


@dataclass(frozen=True, kw_only=True)
class View:
    """One scan: which part of the painting lies where on the glass.

    ``at`` is where the painting's corner (0, 0) would lie on the glass, mm;
    ``turns`` counts quarter turns of the painting clockwise on the glass,
    ``file_turns`` those of the file afterwards. ``strip`` is ``"lamp"``,
    ``"way"`` or None: along which axis the strip lies.
    """

    at: tuple[float, float]
    turns: int = 0
    file_turns: int = 0
    slant: float = 0.0
    gain: tuple[float, float, float] = (1.0, 1.0, 1.0)
    own: Light = dark
    shadow: Callable[[Array, Array], Array] | None = None
    strip: str | None = "lamp"
    strip_at: float = 8.0
    window: tuple[float, float, float, float] = (0.0, 25.0, 216.0, 297.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene:
    """Tiles as levelling gets them, and what is true of them."""

    tiles: tuple[LevelTile, ...]
    truth: tuple[NDArray[np.float32], ...]
    log_light: tuple[Array, ...]
    shaded: tuple[Array, ...]
    places: tuple[Array, ...]
    size: tuple[float, float] = field(default=(0.0, 0.0))


def scan_scene(
    rng: np.random.Generator,
    size: tuple[float, float],
    views: Sequence[View],
    shared: Light = dark,
    *,
    mm_per_px: float = 1.5,
    noise: float = 0.003,
    strip_error: float = 0.003,
    place_error: float = 0.003,
    evened: bool = False,
) -> Scene:
    """Scan a random painting; ``evened`` divides out each strip's own fall-off first."""
    paint = painting(rng, *size)
    parts = [
        _scan(rng, paint, size, f"tile{k}", v, shared, mm_per_px, noise)
        for k, v in enumerate(views)
    ]
    tiles = []
    for part, view in zip(parts, views, strict=True):
        tile = part[0]
        if view.strip is not None:
            light = together(shared, view.own)
            anchors = _strip(rng, view, light, tile, strip_error, place_error)
            tile = replace(tile, anchors=anchors)
            tile = _evened(tile) if evened else tile
        tiles.append(tile)
    _, truth, log_light, shaded, places = zip(*parts, strict=True)
    return Scene(
        tiles=tuple(tiles),
        truth=truth,
        log_light=log_light,
        shaded=shaded,
        places=places,
        size=size,
    )


def _turn(points: Array, turns: int) -> Array:
    """Quarter turns clockwise on a picture with y down: (x, y) to (-y, x)."""
    for _ in range(turns % 4):
        points = np.stack([-points[..., 1], points[..., 0]], axis=-1)
    return points


def _scan(
    rng: np.random.Generator,
    paint: NDArray[np.float32],
    size: tuple[float, float],
    name: str,
    view: View,
    shared: Light,
    mm_per_px: float,
    noise: float,
) -> tuple[LevelTile, NDArray[np.float32], Array, Array, Array]:
    unturned = (round(GLASS[1] / mm_per_px), round(GLASS[0] / mm_per_px))
    shape = unturned[::-1] if view.file_turns % 2 else unturned
    to_glass = glass_map(mm_per_px, shape, view.file_turns)
    angle = np.radians(view.slant)
    slant = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    back = _turn(np.eye(2), -view.turns).T @ slant.T
    mm_from_px = np.column_stack(
        [back @ to_glass[:, :2], back @ (to_glass[:, 2] - np.array(view.at))]
    )
    y, x = np.indices(shape).astype(float)
    pixels = np.stack([x, y], axis=-1)
    glass = pixels @ to_glass[:, :2].T + to_glass[:, 2]
    places = pixels @ mm_from_px[:, :2].T + mm_from_px[:, 2]
    truth = _read(paint, places, mm_per_px)
    left, top, right, bottom = view.window
    u, v = glass[..., 0], glass[..., 1]
    valid = (u >= left) & (u <= right) & (v >= top) & (v <= bottom)
    for axis in range(2):
        valid &= (places[..., axis] >= 0) & (places[..., axis] <= size[axis])
    log_light = shared(u, v) + view.own(u, v) + np.log(view.gain)
    shaded = np.zeros(shape) if view.shadow is None else view.shadow(places[..., 0], places[..., 1])
    light = truth * np.exp(log_light) * (1.0 - shaded[..., None])
    light = light * (1.0 + noise * rng.standard_normal(light.shape))
    light += 0.0002 * rng.standard_normal(light.shape)
    tile = LevelTile(
        name=name,
        light=light.astype(np.float32),
        valid=valid,
        mm_from_px=mm_from_px,
        scanner_mm_from_px=to_glass,
    )
    return tile, truth, log_light, shaded, places


def _read(paint: NDArray[np.float32], places: Array, mm_per_px: float) -> NDArray[np.float32]:
    """Means of the painting over pixels at ``places``."""
    blurred = ndimage.gaussian_filter(paint, (0.35 * mm_per_px / PITCH,) * 2 + (0,))
    at = np.moveaxis(places, -1, 0)[::-1] / PITCH
    read = [ndimage.map_coordinates(blurred[..., c], at, order=1, mode="nearest") for c in range(3)]
    return np.stack(read, axis=-1).astype(np.float32)


def _strip(
    rng: np.random.Generator,
    view: View,
    light: Light,
    tile: LevelTile,
    strip_error: float,
    place_error: float,
) -> Anchors:
    """Read 24 places of a strip 180 mm long."""
    along = np.linspace(-86.0, 86.0, 24)
    if view.strip == "lamp":
        u, v = GLASS[0] / 2 + along, np.full(24, view.strip_at)
    else:
        u, v = np.full(24, view.strip_at), GLASS[1] / 2 + along
    residual = light(u, v) + np.log(view.gain) + strip_error * rng.standard_normal()
    residual = residual + place_error * rng.standard_normal((24, 3))
    matrix = tile.scanner_mm_from_px
    points = (np.column_stack([u, v]) - matrix[:, 2]) @ np.linalg.inv(matrix[:, :2]).T
    return Anchors(points=points, residual=residual, sigma=np.full(24, place_error), common=0.003)


def _evened(tile: LevelTile) -> LevelTile:
    """Take out a tile's gains and log-quadratic fall-off as its strip shows them."""
    anchors = tile.anchors
    assert anchors is not None
    middle = anchors.points.mean(axis=0)
    way = anchors.points[-1] - anchors.points[0]
    scale = 2.0 / (way @ way)
    along = (anchors.points - middle) @ way * scale
    bends = np.linalg.lstsq(
        np.column_stack([np.ones(24), along, along**2]), anchors.residual.mean(axis=1), rcond=None
    )[0]
    gains = np.mean(anchors.residual - (bends[1] * along + bends[2] * along**2)[:, None], axis=0)
    rows, columns = tile.valid.shape
    y, x = np.indices((rows, columns)).astype(float)
    s = np.clip((np.stack([x, y], axis=-1) - middle) @ way * scale, -1.2, 1.2)
    lamp = np.exp(bends[1] * s + bends[2] * s**2)
    light = tile.light / lamp[..., None] / np.exp(gains)
    residual = anchors.residual - gains - (bends[1] * along + bends[2] * along**2)[:, None]
    return replace(
        tile, light=light.astype(np.float32), lamp=lamp, anchors=replace(anchors, residual=residual)
    )


def blank_sheet(
    rng: np.random.Generator,
    shared: Light,
    *,
    mm_per_px: float = 1.5,
    dust: int = 40,
    hairs: int = 8,
    crease: bool = True,
) -> LevelTile:
    """Plain paper over the whole glass, with what lies on it."""
    shape = (round(GLASS[1] / mm_per_px), round(GLASS[0] / mm_per_px))
    to_glass = glass_map(mm_per_px, shape)
    y, x = np.indices(shape).astype(float)
    log_light = shared(x * mm_per_px, y * mm_per_px)
    paper = np.array([0.82, 0.80, 0.74]) * np.exp(log_light)
    paper *= 1.0 + 0.004 * rng.standard_normal((*shape, 1))
    for _ in range(dust):
        radius = rng.uniform(0.5, 4.0)
        far = np.hypot(
            x * mm_per_px - rng.uniform(0, GLASS[0]), y * mm_per_px - rng.uniform(0, GLASS[1])
        )
        paper *= 1.0 - 0.5 * np.clip(radius + 0.5 - far, 0, 1)[..., None]
    for _ in range(hairs):
        angle, offset = rng.uniform(0, np.pi), rng.uniform(20, 200)
        far = np.abs(x * mm_per_px * np.cos(angle) + y * mm_per_px * np.sin(angle) - offset)
        along = y * mm_per_px * np.cos(angle) - x * mm_per_px * np.sin(angle)
        near = np.abs(along - rng.uniform(-100, 200)) < 40.0
        paper *= 1.0 - 0.3 * (near * np.clip(1.2 - far / mm_per_px, 0, 1))[..., None]
    if crease:
        paper *= 1.0 - 0.2 * np.exp(-np.abs(y * mm_per_px - 170.0) / 2.0)[..., None]
    return LevelTile(
        name="blank.tif",
        light=paper.astype(np.float32),
        valid=np.ones(shape, dtype=bool),
        mm_from_px=to_glass,
        scanner_mm_from_px=to_glass,
    )


def errors(scene: Scene, gains: Sequence[TileGain | None]) -> list[Array]:
    """Log of levelled over true light, (N, 3) per tile, over its painting.

    Noise and shadows are no part of it. None leaves a tile as it is.
    """
    result = []
    for tile, light, gain in zip(scene.tiles, scene.log_light, gains, strict=True):
        given = light if tile.lamp is None else light - np.log(tile.lamp)[..., None]
        given = given - _taken(tile, scene, light)
        left = given if gain is None else given + np.log(gain.gain)
        result.append(left[tile.valid])
    return result


def _taken(tile: LevelTile, scene: Scene, light: Array) -> Array:
    """Gains that were taken out of a tile before, found back from its own picture."""
    index = [t.name for t in scene.tiles].index(tile.name)
    given = light if tile.lamp is None else light - np.log(tile.lamp)[..., None]
    clear = tile.valid & (scene.shaded[index] < 1e-3)
    noisy = np.log(np.maximum(tile.light, 1e-4)) - np.log(scene.truth[index])
    taken = given[clear] - noisy[clear]
    return np.asarray(np.median(taken, axis=0))


def unevenness(
    scene: Scene, gains: Sequence[TileGain | None], *, keep: Sequence[NDArray[np.bool_]]
) -> Array:
    """CIEDE2000 to the truth over places kept, all tiles together.

    Paint and noise cancel, and what is left of the light changes slowly, so
    that pixels stand for means over 4 mm. The mean error of the whole picture
    is taken out first: it is no unevenness.
    """
    left = errors(scene, gains)
    kept = [k[t.valid] for k, t in zip(keep, scene.tiles, strict=True)]
    shade = [np.log1p(-s[t.valid]) for s, t in zip(scene.shaded, scene.tiles, strict=True)]
    total = np.concatenate([(e + s[:, None])[k] for e, s, k in zip(left, shade, kept, strict=True)])
    true = np.concatenate(
        [t[tile.valid][k] for t, tile, k in zip(scene.truth, scene.tiles, kept, strict=True)]
    )
    return difference(true, total - total.mean(axis=0))


def difference(light: Array, log_error: Array) -> Array:
    """CIEDE2000 between light (N, 3) and the same light with an error."""
    matrix = rgb_space("oprgb").xyz_from_rgb
    lab = [lab_from_xyz(light * np.exp(e) @ matrix.T) for e in (0.0 * log_error, log_error)]
    return np.asarray(delta_e_2000(*lab), dtype=np.float64)
