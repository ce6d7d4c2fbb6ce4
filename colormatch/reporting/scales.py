"""Fixed scales of tints for maps: the same tint means the same on every page.

Tints differ in lightness step by step, and only along blue and orange beyond
that, so that they stay apart for colour-blind eyes and on a grey print.
"""

from __future__ import annotations

import base64
import io
from dataclasses import dataclass

import numpy as np
from markupsafe import Markup
from numpy.typing import NDArray

from colormatch.model import FloatArray
from colormatch.reporting.svg import drawing, tag, text

NOTHING = 255
"""Class of a place of which nothing is known: clear."""
STEP = 31.0
"""Width of a tint in a legend, drawing units."""


@dataclass(frozen=True, kw_only=True)
class Scale:
    """Tints between edges, the lowest below the first edge and the highest above the last."""

    edges: tuple[float, ...]
    tints: tuple[str, ...]
    title: str

    def classes(self, values: FloatArray) -> NDArray[np.uint8]:
        """Sort values into the tints; `NOTHING` where they are no numbers."""
        found = np.digitize(values, self.edges).astype(np.uint8)
        found[np.isnan(values)] = NOTHING
        return found


DIFFERENCE = Scale(
    edges=(0.3, 0.6, 1.0, 2.0, 4.0),
    tints=("#f8f3d2", "#f2cc78", "#e2934c", "#bd5550", "#7d2f5e", "#35163f"),
    title="ΔE2000 between two tiles",
)
"""Steps of visibility: up to 0.3 a step at a seam is invisible, about 1 can just be seen."""
CHANGE = Scale(
    edges=(-8.0, -4.0, -2.0, -1.0, -0.5, 0.5, 1.0, 2.0, 4.0, 8.0),
    tints=("#12305c", "#2a5c99", "#5f93c6", "#9cc0e0", "#cfe0ef", "#f4f4f2", "#f7dfc0",
           "#efb77a", "#d98738", "#a65a14", "#5f3006"),
    title="change of light, %",
)  # fmt: skip
"""Blue was made darker, orange lighter."""


def rgba(tint: str, alpha: int = 255) -> tuple[int, int, int, int]:
    """Give a tint's bytes."""
    red, green, blue = (int(tint[i : i + 2], 16) for i in (1, 3, 5))
    return red, green, blue, alpha


def classes_uri(classes: NDArray[np.uint8], tints: tuple[str, ...]) -> str:
    """Give classes as a PNG inside an address, clear where there is `NOTHING`.

    Parameters
    ----------
    classes : ndarray of uint8, shape (h, w)
    tints : tuple of str
        ``#rrggbb`` of class 0, 1 and so on.
    """
    from PIL import Image

    picture = Image.fromarray(np.where(classes == NOTHING, len(tints), classes).astype(np.uint8))
    picture.putpalette([value for tint in tints for value in rgba(tint)[:3]] + [255, 255, 255])
    buffer = io.BytesIO()
    picture.save(buffer, "PNG", optimize=True, transparency=len(tints))
    return "data:image/png;base64," + base64.b64encode(buffer.getvalue()).decode("ascii")


def legend(scale: Scale) -> Markup:
    """Draw a scale with its edges."""
    width = STEP * len(scale.tints) + 4
    parts = [text(1, 12, scale.title, "start", "t soft")]
    for k, tint in enumerate(scale.tints):
        parts.append(
            tag("rect", x=1 + STEP * k, y=18, width=STEP, height=13, fill=tint, class_="swatch")
        )
    for k, edge in enumerate(scale.edges):
        words = (f"{edge:+g}" if scale.edges[0] < 0 else f"{edge:g}").replace("-", "\u2212")
        parts.append(text(1 + STEP * (k + 1), 44, words, "middle"))
    return drawing(width, 50, f"scale of {scale.title}", *parts, class_="plot legend")
