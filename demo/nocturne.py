"""A dark oil painting on canvas: a quay at night with one lantern."""

from __future__ import annotations

import numpy as np

from colormatch.model import FloatArray

from . import paints
from .canvas import Canvas
from .coast import margin
from .spectra import GRID, rise

TITLE = "The ferry lantern"
STORY = (
    "Tove Harlin's largest oil, painted in winter from memory: the last ferry at Merrowick, "
    "taken off its stretcher for one afternoon to be scanned in pieces."
)
BORDER = 11.0
TEXTURE = {
    "slope": 0.9,
    "pitch": 0.62,
    "weave": 0.22,
    "tooth": 0.04,
    "impasto": 0.75,
    "grain": 0.035,
    "thread": 0.03,
}


def bare(width: float, height: float, *, ppi: float, rng: np.random.Generator) -> Canvas:
    """Primed canvas, yellowed."""
    ground = 0.82 - 0.18 * rise(-GRID, -470, 120)
    surface = paints.VARNISHED_OIL
    return Canvas(width, height, ppi=ppi, ground=ground, surface=surface, rng=rng)


def draw(canvas: Canvas) -> None:
    """Night, water, quay, lantern and its light."""
    lantern = np.array([0.63 * canvas.width, 0.40 * canvas.height])
    _night(canvas, lantern)
    _water(canvas, lantern)
    _quay(canvas)
    _people(canvas)
    _lantern(canvas, lantern)
    margin(canvas, BORDER)


def _dab(canvas: Canvas, x: float, y: float, length: float, tilt: float) -> FloatArray:
    along = 0.5 * length * np.array([np.cos(tilt), np.sin(tilt)])
    bow = 0.12 * length * canvas.rng.standard_normal()
    centre = np.array([x, y])
    return np.stack(
        [centre - along, centre + bow * np.array([-along[1], along[0]]) / length, centre + along]
    )


def _night(canvas: Canvas, lantern: FloatArray) -> None:
    rng, w, h = canvas.rng, canvas.width, canvas.height
    under = canvas.paint({"soot black": 1, "bark brown": 1}, {"bark brown": 1, "brick earth": 0.3})
    canvas.polygon(np.array([[0, 0], [w, 0], [w, h], [0, h]]), under, load=0.4, height=0.2)
    black = {"soot black": 1.0, "deep blue": 1.2, "bark brown": 0.5}
    night = canvas.family(
        black, {"deep blue": 1, "bark brown": 0.35, "chalk white": 1.3}, count=24, spread=0.5
    )
    warm = canvas.family(
        {"soot black": 0.5, "bark brown": 1},
        {"bark brown": 0.8, "brick earth": 1, "field ochre": 1, "chalk white": 0.3},
        count=18,
        spread=0.5,
    )
    teal = canvas.family(
        black,
        {"glass green": 1, "harbour blue": 0.5, "soot black": 0.15, "chalk white": 0.8},
        count=10,
        spread=0.5,
    )
    for _ in range(int(w * h / 16)):
        x, y = rng.uniform(0, w), rng.uniform(0, 0.66 * h)
        near = float(np.exp(-np.hypot(x - lantern[0], y - lantern[1]) / 26))
        family = warm if rng.random() < 2.2 * near else (teal if rng.random() < 0.2 else night)
        load = np.clip(0.20 + 0.8 * near + 0.34 * rng.standard_normal() + 0.15 * (x / w), 0, 1)
        path = _dab(canvas, x, y, rng.uniform(6, 16), rng.normal(0.6, 0.5))
        canvas.stroke(path, rng.uniform(2.5, 5), canvas.pick(family), load=load, spread=0.09)


def _water(canvas: Canvas, lantern: FloatArray) -> None:
    rng, w, h = canvas.rng, canvas.width, canvas.height
    deep = canvas.family(
        {"soot black": 1, "glass green": 1},
        {"harbour blue": 1, "glass green": 0.7, "chalk white": 1.0},
        count=20,
        spread=0.5,
    )
    glow = canvas.family(
        {"bark brown": 1, "orange": 0.6},
        {"orange": 1, "sun yellow": 1.5, "chalk white": 0.5},
        count=12,
        spread=0.4,
    )
    for y in np.arange(0.58 * h, h, 1.5):
        for x in np.arange(-5, w + 8, 8):
            load = np.clip(0.24 + 0.30 * rng.standard_normal(), 0, 1)
            path = _dab(canvas, x + rng.normal(0, 3), y, rng.uniform(7, 15), rng.normal(0, 0.08))
            canvas.stroke(path, 2.3, canvas.pick(deep), load=load)
    for y in np.arange(0.585 * h, 0.97 * h, 1.3):
        reach = 2.5 + 0.10 * (y - 0.58 * h)
        for _ in range(3):
            path = _dab(
                canvas, lantern[0] + rng.normal(0, reach), y, rng.uniform(2, 7), rng.normal(0, 0.06)
            )
            canvas.stroke(
                path, rng.uniform(0.5, 1.3), canvas.pick(glow), load=rng.uniform(0.1, 1), body=0.8
            )


def _quay(canvas: Canvas) -> None:
    rng, w, h = canvas.rng, canvas.width, canvas.height
    stone = canvas.family(
        {"soot black": 1, "bark brown": 0.8},
        {"bark brown": 1, "chalk white": 0.35, "deep blue": 0.2, "wine lake": 0.3},
        count=16,
        spread=0.5,
    )
    for _ in range(int(w * h / 90)):
        x, y = rng.uniform(0, 0.5 * w), h * rng.uniform(0.52, 0.66)
        path = _dab(canvas, x, y + 0.08 * x, rng.uniform(4, 9), 0.1)
        canvas.stroke(path, 2.4, canvas.pick(stone), load=rng.beta(1.2, 3), body=0.6)
    mast = canvas.paint({"soot black": 1, "bark brown": 1}, {"field ochre": 1, "bark brown": 1})
    for x in rng.uniform(0.03, 0.97, 9) * w:
        lean, top = rng.normal(0, 2), h * rng.uniform(0.1, 0.3)
        canvas.line(
            np.array([[x, 0.62 * h], [x + lean, top]]),
            rng.uniform(0.4, 1.2),
            mast,
            load=rng.beta(1, 3),
        )
        for _ in range(4):
            rope = np.array([[x + lean, top], [x + rng.normal(0, 16), 0.6 * h]])
            canvas.line(rope, 0.15, mast, load=rng.beta(1, 2))
    pane = canvas.family(
        {"orange": 1, "bark brown": 1}, {"sun yellow": 1, "chalk white": 0.6}, count=6
    )
    for x in np.arange(0.06, 0.5, 0.055) * w:
        for row in range(3):
            if rng.random() < 0.4:
                box = np.array([[0, 0], [1.3, 0], [1.3, 2], [0, 2]])
                box = box + np.array([x + rng.normal(0, 1), (0.4 + 0.05 * row) * h])
                canvas.polygon(box, canvas.pick(pane), load=rng.random(), height=0.7)


def _people(canvas: Canvas) -> None:
    rng, w, h = canvas.rng, canvas.width, canvas.height
    coat = canvas.family({"soot black": 1}, {"wine lake": 1, "soot black": 0.3}, count=5)
    coat += canvas.family({"soot black": 1}, {"deep blue": 1, "chalk white": 0.15}, count=4)
    skin = canvas.family(
        {"brick earth": 1, "bark brown": 1},
        {"orange": 0.4, "chalk white": 1, "brick earth": 0.3},
        count=4,
    )
    for x in np.array([0.2, 0.26, 0.4, 0.52, 0.56, 0.82]) * w:
        y, tall = h * rng.uniform(0.56, 0.64), rng.uniform(11, 17)
        for _ in range(14):
            path = np.array([[x, y], [x + 0.5, y - 0.4 * tall], [x, y - 0.8 * tall]]) + rng.normal(
                0, [1.6, 0.4], 2
            )
            canvas.stroke(path, 1.6, canvas.pick(coat), load=rng.beta(1.2, 3), body=0.6)
        canvas.disc(
            (x, y - 0.92 * tall), 0.085 * tall, canvas.pick(skin), load=rng.random(), height=0.7
        )


def _lantern(canvas: Canvas, at: FloatArray) -> None:
    rng = canvas.rng
    halo = canvas.family(
        {"brick earth": 1, "bark brown": 0.6},
        {"sun yellow": 1, "orange": 0.8},
        count=16,
        spread=0.4,
    )
    core = canvas.family(
        {"sun yellow": 1, "chalk white": 0.5}, {"chalk white": 1, "lemon": 0.06}, count=6
    )
    for _ in range(320):
        far, turn = abs(rng.normal(0, 11)), rng.uniform(0, 2 * np.pi)
        x, y = at + far * np.array([np.cos(turn), np.sin(turn)])
        load = np.clip(1.0 - far / 16 + rng.normal(0, 0.12), 0, 1)
        canvas.stroke(
            _dab(canvas, x, y, 4, turn + 1.57), 1.5, canvas.pick(halo), load=load, body=0.7
        )
    for _ in range(40):
        x, y = at + rng.normal(0, [1.3, 2.0])
        canvas.stroke(
            _dab(canvas, x, y, 2.5, 1.57), 1.0, canvas.pick(core), load=rng.random(), body=0.95
        )
