"""Coloured circles, rings and rectangles in acrylic on board.

It is full of things a target finder could mistake for its target: rings
inside rings, rows of square swatches, black and white checks.
"""

from __future__ import annotations

import numpy as np

from . import paints
from .canvas import Canvas
from .coast import margin
from .spectra import GRID, rise

TITLE = "Counting house no. 4"
STORY = (
    "For a school hall in Merrowick, Tove Harlin paints number games: circles and rectangles "
    "on board, meant to be seen from far away and scanned from far too near."
)
BORDER = 5.0
TEXTURE = {
    "slope": 0.8,
    "pitch": 0.7,
    "weave": 0.05,
    "tooth": 0.08,
    "impasto": 0.35,
    "grain": 0.05,
    "thread": 0.01,
}


def bare(width: float, height: float, *, ppi: float, rng: np.random.Generator) -> Canvas:
    """Primed board."""
    ground = 0.88 - 0.04 * rise(-GRID, -450, 100)
    return Canvas(width, height, ppi=ppi, ground=ground, surface=paints.ACRYLIC, rng=rng)


def draw(canvas: Canvas) -> None:
    """Fields, then grids, then rings, then a few lines of tally marks."""
    bright = _palette(canvas)
    greys = canvas.family(
        {"soot black": 1}, {"chalk white": 1, "soot black": 0.02}, count=10, spread=0.6
    )
    _fields(canvas, bright + greys)
    for _ in range(max(2, round(canvas.width * canvas.height / 7000))):
        _swatches(canvas, bright + greys, greys)
    for _ in range(round(canvas.width * canvas.height / 900)):
        _rings(canvas, bright, greys)
    _tallies(canvas, greys)
    margin(canvas, BORDER)


def _palette(canvas: Canvas) -> list[int]:
    names = [name for name in paints.pigments() if name not in ("chalk white", "soot black")]
    numbers: list[int] = []
    for name in names:
        other = names[int(canvas.rng.integers(len(names)))]
        numbers += canvas.family(
            {name: 1, "chalk white": 0.15}, {name: 1, "chalk white": 0.5, other: 0.1}, count=3
        )
    return numbers


def _fields(canvas: Canvas, numbers: list[int]) -> None:
    rng, w, h = canvas.rng, canvas.width, canvas.height
    for _ in range(26):
        x, y = rng.uniform(-20, w), rng.uniform(-20, h)
        wide, tall, turn = rng.uniform(20, 0.5 * w), rng.uniform(15, 0.4 * h), rng.normal(0, 0.05)
        spin = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
        paint, load = canvas.pick(numbers), rng.random()
        box = np.array([[0, 0], [wide, 0], [wide, tall], [0, tall]]) @ spin + (x, y)
        canvas.polygon(box, paint, load=load)
        for down in np.arange(1.5, tall - 1, 2.6):
            path = (
                np.array([[0.8, down], [wide / 2, down + rng.normal(0, 0.5)], [wide - 0.8, down]])
                @ spin
            )
            canvas.stroke(path + np.array([x, y]), 3, paint, load=load, spread=0.10, dry=0.06)


def _swatches(canvas: Canvas, numbers: list[int], greys: list[int]) -> None:
    """Rows of squares on grey, like a target and not one."""
    rng = canvas.rng
    side, gap = rng.uniform(4, 9), rng.uniform(0.5, 2.5)
    x, y = rng.uniform(8, 0.6 * canvas.width), rng.uniform(8, 0.7 * canvas.height)
    rows, columns, step = int(rng.integers(1, 4)), int(rng.integers(5, 12)), side + gap
    base = np.array([[0, 0], [1, 0], [1, 1], [0, 1]])
    canvas.polygon(
        base * (columns * step + gap, rows * step + gap) + (x - gap, y - gap),
        canvas.pick(greys),
        load=0.6,
    )
    for row in range(rows):
        for column in range(columns):
            corner = (x + column * step, y + row * step)
            canvas.polygon(base * side + corner, canvas.pick(numbers), load=rng.random())


def _rings(canvas: Canvas, bright: list[int], greys: list[int]) -> None:
    rng = canvas.rng
    x, y = rng.uniform(0, canvas.width), rng.uniform(0, canvas.height)
    radius, count = rng.uniform(1.5, 16), int(rng.integers(1, 6))
    plain = rng.random() < 0.4
    for k in range(count):
        load = float(k % 2) if plain else rng.random()
        paint = canvas.pick(greys if plain else bright)
        canvas.disc((x, y), radius * (1 - k / count), paint, load=load)


def _tallies(canvas: Canvas, greys: list[int]) -> None:
    rng = canvas.rng
    for _ in range(60):
        x, y, paint = (
            rng.uniform(8, canvas.width),
            rng.uniform(8, canvas.height),
            canvas.pick(greys),
        )
        for k in range(int(rng.integers(2, 6))):
            ends = np.array([[x + 1.4 * k, y], [x + 1.4 * k + rng.normal(0, 0.3), y + 5]])
            canvas.line(ends, 0.4, paint, load=0.05)
