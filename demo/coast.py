"""A bright harbour in watercolour and gouache on paper."""

from __future__ import annotations

import numpy as np

from colormatch.model import FloatArray

from . import paints
from .canvas import Canvas
from .spectra import GRID, rise

TITLE = "Low water at Merrowick"
STORY = (
    "Tove Harlin paints the harbour of Merrowick every spring, from the wall by the net loft. "
    "The sheet is a little wider than her scanner, and the postcards are due on Friday."
)
BORDER = 9.0
TEXTURE = {
    "slope": 0.45,
    "pitch": 0.8,
    "weave": 0.0,
    "tooth": 0.2,
    "impasto": 0.15,
    "grain": 0.07,
    "thread": 0.0,
}


def bare(width: float, height: float, *, ppi: float, rng: np.random.Generator) -> Canvas:
    """Rag paper, a little warm."""
    ground = 0.89 - 0.07 * rise(-GRID, -440, 90)
    surface = paints.GOUACHE
    return Canvas(width, height, ppi=ppi, ground=ground, surface=surface, rng=rng)


def draw(canvas: Canvas) -> None:
    """Sky, sea, town, boats, wall, and the bare margin over all."""
    horizon = BORDER + 0.42 * (canvas.height - 2 * BORDER)
    _sky(canvas, horizon)
    _hills(canvas, horizon)
    _sea(canvas, horizon)
    _town(canvas, horizon)
    _shore(canvas)
    _boats(canvas, horizon)
    _birds(canvas, horizon)
    margin(canvas, BORDER)


def margin(canvas: Canvas, border: float) -> None:
    """Leave the border bare, with the ragged edge a brush makes."""
    rng, step = canvas.rng, 1.5
    w, h, b = canvas.width, canvas.height, border
    across, down = np.arange(0, w + step, step), np.arange(0, h + step, step)
    for along, flip, side in ((across, 0, 0.0), (across, 0, h), (down, 1, 0.0), (down, 1, w)):
        rag = b + 0.35 * rng.standard_normal(len(along))
        edge = np.stack([along, np.abs(side - rag)], axis=1)
        ends = np.array([[along[-1] + 9, edge[-1, 1]], [along[-1] + 9, side], [along[0], side]])
        shape = np.concatenate([edge, ends])
        canvas.polygon(shape[:, ::-1] if flip else shape, 0, load=0.0, height=0.25)


def _sweep(x: float, y: float, length: float, tilt: float, bow: float) -> FloatArray:
    across = 0.5 * length * np.array([np.cos(tilt), np.sin(tilt)])
    up = np.array([0.0, bow])
    centre = np.array([x, y])
    return np.stack([centre - across, centre + up, centre + across])


def _sky(canvas: Canvas, horizon: float) -> None:
    rng, w = canvas.rng, canvas.width
    blues = canvas.washes({"harbour blue": 0.5, "deep blue": 0.5}, count=14, spread=0.5)
    warm = canvas.washes({"field ochre": 0.5, "wine lake": 0.12}, count=6, spread=0.5)
    for y in np.arange(0, horizon + 4, 2.2):
        depth = 0.26 - 0.17 * y / horizon
        for x in np.arange(-10, w + 20, 17):
            path = _sweep(x + rng.normal(0, 5), y, 32, rng.normal(0, 0.06), rng.normal(0, 1))
            low = y > 0.72 * horizon and rng.random() < 0.6
            load = depth + rng.normal(0, 0.03)
            canvas.stroke(path, 6, canvas.pick(warm if low else blues), load=load, spread=0.03)
    clouds = canvas.family(
        {"chalk white": 1, "deep blue": 0.01, "heather violet": 0.012},
        {"chalk white": 1, "field ochre": 0.01},
        count=8,
    )
    for _ in range(9):
        x, y, size = rng.uniform(0, w), rng.uniform(10, 0.7 * horizon), rng.uniform(5, 12)
        for _ in range(28):
            dx, dy = rng.normal(0, [size, 0.32 * size])
            path = _sweep(x + dx, y + dy, rng.uniform(4, 12), rng.normal(0, 0.2), -1.0)
            shade = 0.75 - 0.9 * dy / size
            canvas.stroke(path, 3, canvas.pick(clouds), load=shade, spread=0.08, dry=0.4)


def _hills(canvas: Canvas, horizon: float) -> None:
    rng, w = canvas.rng, canvas.width
    for tone, tall in ((0.35, 16.0), (0.6, 10.0)):
        paint = canvas.family(
            {"chalk white": 1, "deep blue": 0.06 * tone, "meadow green": 0.1},
            {"chalk white": 0.6, "meadow green": tone, "heather violet": 0.15 * tone},
            count=8,
        )
        x = np.arange(-5, w + 6, 4.0)
        crest = horizon - tall * (0.6 + 0.4 * np.sin(x / 31 + 9 * tone) + 0.1 * np.sin(x / 7))
        for _ in range(3):
            for left, top in zip(x, crest, strict=True):
                path = _sweep(left, rng.uniform(top, horizon), 9, rng.normal(0.1, 0.2), -0.6)
                canvas.stroke(path, 2.6, canvas.pick(paint), load=rng.uniform(0.2, 0.8))


def _sea(canvas: Canvas, horizon: float) -> None:
    rng, w, h = canvas.rng, canvas.width, canvas.height
    far = canvas.family(
        {"chalk white": 1, "harbour blue": 0.07, "field ochre": 0.04},
        {"chalk white": 1, "harbour blue": 0.25, "deep blue": 0.15, "bark brown": 0.1},
        count=16,
    )
    near = canvas.family(
        {"chalk white": 0.7, "glass green": 0.35, "meadow green": 0.3},
        {"chalk white": 0.4, "glass green": 0.4, "deep blue": 0.2},
        count=16,
    )
    light = canvas.family({"chalk white": 1, "lemon": 0.02}, {"chalk white": 1}, count=4)
    y = horizon
    while y < h:
        depth = (y - horizon) / (h - horizon)
        for x in np.arange(-6, w + 12, 7 + 6 * depth):
            family = near if rng.random() < depth + 0.1 * rng.standard_normal() else far
            path = _sweep(x + rng.normal(0, 3), y, 8 + 12 * depth, rng.normal(0, 0.03), -0.5)
            canvas.stroke(path, 1.6 + 2 * depth, canvas.pick(family), load=rng.uniform(0.1, 0.9))
            if rng.random() < 0.16:
                canvas.line(
                    path + rng.normal(0, 0.6, 2), 0.25, canvas.pick(light), load=rng.random()
                )
        y += 0.9 + 1.5 * depth


def _town(canvas: Canvas, horizon: float) -> None:
    rng, w = canvas.rng, canvas.width
    walls = canvas.family(
        {"chalk white": 1, "field ochre": 0.06},
        {"chalk white": 1, "field ochre": 0.3},
        count=10,
        spread=0.6,
    ) + canvas.family(
        {"chalk white": 1, "poppy red": 0.04}, {"chalk white": 1, "orange": 0.2}, count=6
    )
    roofs = canvas.family(
        {"brick earth": 1, "chalk white": 0.5}, {"brick earth": 1, "bark brown": 0.3}, count=10
    ) + canvas.family(
        {"chalk white": 0.5, "deep blue": 0.1, "soot black": 0.1},
        {"soot black": 0.2, "chalk white": 0.4},
        count=4,
    )
    dark = canvas.paint(
        {"soot black": 0.4, "deep blue": 0.5, "chalk white": 0.2}, {"bark brown": 1}
    )
    for row, lift in enumerate((15.0, 9.0, 3.0)):
        for x in np.arange(0.12 * w, 0.74 * w, 6.5):
            if rng.random() < 0.2 + 0.1 * row:
                continue
            left, base = x + rng.normal(0, 1.5), horizon + 2 - lift + rng.normal(0, 0.8)
            _house(canvas, left, base, canvas.pick(walls), canvas.pick(roofs), dark)


def _house(canvas: Canvas, x: float, base: float, wall: int, roof: int, dark: int) -> None:
    rng = canvas.rng
    wide, tall = rng.uniform(5, 9), rng.uniform(5, 9)
    box = np.array([[x, base], [x, base - tall], [x + wide, base - tall], [x + wide, base]])
    canvas.polygon(box, wall, load=rng.uniform(0, 0.9))
    top = np.array(
        [[x - 0.5, base - tall], [x + wide / 2, base - tall - 3.2], [x + wide + 0.5, base - tall]]
    )
    canvas.polygon(top, roof, load=rng.uniform(0, 0.9), height=0.5)
    for k in np.arange(0.4, 3.0, 0.5):
        ends = np.array(
            [[x - 0.2 + k * 1.5, base - tall - k], [x + wide + 0.2 - k * 1.5, base - tall - k]]
        )
        canvas.line(ends, 0.12, roof, load=rng.random())
    for row in np.arange(base - tall + 1.2, base - 1, 2.4):
        for column in np.arange(x + 0.9, x + wide - 1, 1.9):
            pane = np.array([[0, 0], [0.9, 0], [0.9, 1.3], [0, 1.3]]) + np.array([column, row])
            canvas.polygon(pane, dark, load=rng.uniform(0, 1))


def _shore(canvas: Canvas) -> None:
    rng, w, h = canvas.rng, canvas.width, canvas.height
    stone = canvas.family(
        {"chalk white": 1, "bark brown": 0.3, "field ochre": 0.3},
        {"chalk white": 0.25, "bark brown": 1, "heather violet": 0.2},
        count=14,
        spread=0.5,
    )
    for _ in range(int(0.09 * w * h / 10)):
        x = rng.uniform(0, w)
        y = h - 6 - abs(rng.normal(0, 0.10 * h)) * (0.35 + (x / w) ** 2)
        path = _sweep(x, y, rng.uniform(4, 10), rng.normal(0, 0.25), rng.normal(-0.8, 0.3))
        canvas.stroke(path, rng.uniform(2, 4.5), canvas.pick(stone), load=rng.random(), body=0.55)
    grass = canvas.family(
        {"meadow green": 1, "lemon": 0.6}, {"meadow green": 1, "deep blue": 0.15}, count=8
    )
    flowers = canvas.family(
        {"poppy red": 1}, {"orange": 1, "chalk white": 0.2}, count=4
    ) + canvas.family(
        {"heather violet": 1, "chalk white": 0.5}, {"wine lake": 1, "chalk white": 0.4}, count=4
    )
    for _ in range(int(2.2 * w)):
        x, y = rng.uniform(0, w), h - BORDER - abs(rng.normal(0, 7))
        blade = np.array(
            [[x, y], [x + rng.normal(0, 0.8), y - 3], [x + rng.normal(0, 2), y - rng.uniform(4, 9)]]
        )
        canvas.stroke(blade, 0.4, canvas.pick(grass), load=rng.random())
        if rng.random() < 0.25:
            canvas.disc(
                (blade[2, 0], blade[2, 1]),
                rng.uniform(0.3, 0.8),
                canvas.pick(flowers),
                load=rng.random(),
            )


def _boats(canvas: Canvas, horizon: float) -> None:
    rng, w, h = canvas.rng, canvas.width, canvas.height
    hulls = canvas.family({"poppy red": 1}, {"poppy red": 1, "bark brown": 0.4}, count=3)
    hulls += canvas.family({"deep blue": 1, "chalk white": 0.3}, {"deep blue": 1}, count=3)
    hulls += canvas.family({"sun yellow": 1}, {"orange": 1, "sun yellow": 1}, count=2)
    hulls += canvas.family({"chalk white": 1}, {"chalk white": 1, "glass green": 0.2}, count=3)
    sail = canvas.family(
        {"chalk white": 1, "field ochre": 0.04}, {"chalk white": 1, "brick earth": 0.2}, count=4
    )
    rope = canvas.paint({"bark brown": 1, "soot black": 0.3}, {"soot black": 1})
    for x in np.linspace(0.08, 0.92, 9) * w:
        depth = rng.uniform(0.08, 0.62)
        y, size = horizon + depth * (h - horizon), 5 + 16 * depth
        _boat(canvas, x + rng.normal(0, 3), y, size, canvas.pick(hulls), canvas.pick(sail), rope)


def _boat(canvas: Canvas, x: float, y: float, size: float, hull: int, sail: int, rope: int) -> None:
    rng = canvas.rng
    at = np.array([x, y])
    for row in np.linspace(0, 1, 6):
        half, deep = 1 - 0.35 * row, 0.28 * row
        path = np.array([[-half, deep - 0.1], [0, deep + 0.02], [half, deep - 0.12]]) * size + at
        canvas.stroke(path, 0.09 * size, hull, load=0.15 + 0.7 * row, dry=0.02, body=0.6)
    top = np.array([x + rng.normal(0, 0.5), y - 1.8 * size])
    if rng.random() < 0.6:
        _sail(canvas, at, top, size, sail)
    canvas.line(np.stack([at, top]), 0.35, rope, load=0.4)
    for end in (x - size, x + 0.95 * size):
        canvas.line(np.stack([top, [end, y - 0.1 * size]]), 0.1, rope, load=0.8)
    for k in 0.2 * np.arange(0.3, 2.2, 0.35):
        ripple = np.array([[-0.7, 0.25 + k], [0, 0.28 + k], [0.6, 0.25 + k]]) * size + at
        canvas.stroke(ripple, 0.3, hull, load=rng.random(), dry=0.9)


def _sail(canvas: Canvas, foot: FloatArray, top: FloatArray, size: float, sail: int) -> None:
    near, far = foot + np.array([0.06, -0.2]) * size, foot + np.array([0.9, -0.3]) * size
    peak = top + np.array([0.05 * size, 1])
    canvas.polygon(np.stack([near, peak, far]), sail, load=canvas.rng.uniform(0.1, 0.9))
    for k in np.linspace(0.2, 0.8, 4):
        seam = np.stack([near + k * (peak - near), far + 0.3 * k * (peak - far)])
        canvas.line(seam, 0.1, sail, load=1 - k)


def _birds(canvas: Canvas, horizon: float) -> None:
    rng = canvas.rng
    wing = canvas.paint({"chalk white": 1}, {"soot black": 1, "chalk white": 0.4})
    for _ in range(24):
        x, y, s = (
            rng.uniform(15, canvas.width - 15),
            rng.uniform(14, horizon),
            rng.uniform(0.8, 2.5),
        )
        shape = np.array(
            [[-s, -0.4 * s], [-0.4 * s, -0.6 * s], [0, 0], [0.4 * s, -0.6 * s], [s, -0.3 * s]]
        )
        canvas.line(shape + np.array([x, y]), 0.22, wing, load=rng.choice([0.05, 0.95]))
