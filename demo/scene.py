"""The invented painting: what it is made of, and what any eye or sensor sees of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from colormatch.model import FloatArray

from . import abstract, coast, nocturne
from .canvas import NODES, Canvas
from .texture import fractal, weave

KINDS = ("coast", "dark-oil", "abstract")
"""What `make_scene` can draw."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Scene:
    """A painting as maps of paint.

    Attributes
    ----------
    kind, title, story : str
        What it is, and the invented occasion.
    width, height : float
        Size of paper, board or canvas in mm, bare border included.
    border : float
        Width of the bare border, mm.
    ppi : float
        Pixels per inch of the maps; pixel (0, 0) covers the top left corner.
    paint : ndarray of uint16, shape (H, W)
        Number of the paint.
    load : ndarray of uint8, shape (H, W)
        Where it is between the ends of that paint, 255 at the far end.
    relief : ndarray of int8, shape (H, W)
        Height of the surface, 127 about 0.2 mm above the mean.
    spectra : ndarray of shape (P, NODES, 36)
        Reflectance along each paint.
    """

    kind: str
    title: str
    story: str
    width: float
    height: float
    border: float
    ppi: float
    paint: NDArray[np.uint16]
    load: NDArray[np.uint8]
    relief: NDArray[np.int8]
    spectra: FloatArray

    def table(self, weights: FloatArray) -> NDArray[np.float32]:
        """Responses (P, 256, C) of every paint and load to weights (C, 36)."""
        nodes = self.spectra @ weights.T
        at = np.arange(256) / 255 * (NODES - 1)
        low = np.minimum(at.astype(int), NODES - 2)
        share = (at - low)[:, None]
        return np.asarray((1 - share) * nodes[:, low] + share * nodes[:, low + 1], np.float32)

    def seen(
        self, weights: FloatArray, rows: slice = slice(None), columns: slice = slice(None)
    ) -> NDArray[np.float32]:
        """Linear response (h, w, C) of a part of the painting to weights (C, 36)."""
        table = self.table(weights).reshape(-1, len(weights))
        key = self.paint[rows, columns].astype(np.int32)
        key *= 256
        key += self.load[rows, columns]
        return table.take(key.ravel(), axis=0).reshape(*key.shape, -1)


def make_scene(
    kind: str,
    *,
    seed: int = 0,
    size: tuple[float, float] = (240.0, 180.0),
    ppi: float = 600.0,
) -> Scene:
    """Paint an invented picture.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    seed : int
        Another seed is another picture of the same kind.
    size : tuple of float
        Width and height of the support in mm.
    ppi : float
        Pixels per inch of the maps; one and a half times the scan's is enough.

    Raises
    ------
    ValueError
        If ``kind`` is not known or the size is under 40 mm.
    """
    if kind not in KINDS:
        raise ValueError(f"kind must be one of {', '.join(KINDS)} (got {kind!r})")
    if min(size) < 40:
        raise ValueError(f"size must be at least 40 x 40 mm (got {size[0]:g} x {size[1]:g})")
    hand, grain = (np.random.default_rng(s) for s in np.random.SeedSequence(seed).spawn(2))
    studio = {"coast": coast, "dark-oil": nocturne, "abstract": abstract}[kind]
    canvas = studio.bare(*size, ppi=ppi, rng=hand)
    studio.draw(canvas)
    load, relief = _textured(canvas, studio.TEXTURE, grain)
    return Scene(
        kind=kind,
        title=studio.TITLE,
        story=studio.STORY,
        width=size[0],
        height=size[1],
        border=studio.BORDER,
        ppi=ppi,
        paint=np.ascontiguousarray(canvas.maps[..., 0]),
        load=load,
        relief=relief,
        spectra=np.stack(canvas.spectra),
    )


def _textured(
    canvas: Canvas, texture: dict[str, float], rng: np.random.Generator
) -> tuple[NDArray[np.uint8], NDArray[np.int8]]:
    """Load and relief with the grain of paint and support worked in."""
    shape, mm = canvas.maps.shape[:2], canvas.ppi / 25.4
    grain = fractal(shape, rng, coarsest=12 * mm, finest=1.0, slope=texture["slope"])
    support = weave(shape, rng, pitch=texture["pitch"] * mm) if texture["weave"] else 0 * grain
    height = (canvas.maps[..., 2].astype(np.float32) / 65535 - 0.4) * texture["impasto"]
    height += texture["weave"] * support + texture["tooth"] * grain
    load = canvas.maps[..., 1].astype(np.float32) / 257
    load += 255 * (texture["grain"] * grain + texture["thread"] * support)
    relief = np.clip(height * 127, -127, 127).astype(np.int8)
    return np.clip(load + 0.5, 0, 255).astype(np.uint8), relief
