"""From a scanner's linear light to XYZ: a 3x3, or a root-polynomial where paint proves it.

The root-polynomial of degree 2 has the terms R, G, B, √RG, √GB and √RB: a brighter
exposure of the same paint scales its result and nothing else (G. D. Finlayson,
M. Mackiewicz, A. Hurlbert, "Color correction using root-polynomial regression", IEEE
TIP 24(5), 2015). Here it is written as a linear part and the squares of differences of
roots, which span the same functions but vanish for the strip's paper and every grey of
its hue: so those come out as the paper was measured, whatever the paints say.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import FloatArray

FADE = 0.06
"""Width of the rim round the paints' hull, shares of light, over which trust fades."""
TERMS = ("R", "G", "B", "√RG", "√GB", "√RB")
"""The root-polynomial's terms, in the order of `ColourMap.coefficients`."""
DARKEST = 1e-3
"""Sum of the relative light of three channels below which shares of it mean nothing."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Hull:
    """The convex hull of colours in a plane, as the edges' half planes.

    Attributes
    ----------
    edges : ndarray of shape (E, 3)
        ``edges[:, :2] @ point + edges[:, 2]`` is the distance beyond each edge.
    """

    edges: FloatArray

    @classmethod
    def around(cls, shares: FloatArray) -> Hull | None:
        """Give the hull of points (N, 2); None if they lie along a line."""
        from scipy.spatial import ConvexHull, QhullError

        try:
            return cls(edges=np.asarray(ConvexHull(shares).equations))
        except (QhullError, ValueError):
            return None

    def beyond(self, shares: FloatArray) -> FloatArray:
        """How far points (..., 2) lie outside; 0 or less inside."""
        distance = np.full(shares.shape[:-1], -np.inf)
        for x, y, offset in self.edges:
            distance = np.maximum(distance, shares[..., 0] * x + shares[..., 1] * y + offset)
        return distance

    def trust(self, shares: FloatArray) -> FloatArray:
        """Give 1 inside, falling to 0 at `FADE` outside."""
        trust: FloatArray = np.clip(1.0 - self.beyond(shares) / FADE, 0.0, 1.0)
        return trust


@dataclass(frozen=True, kw_only=True, eq=False)
class ColourMap:
    """How linear light becomes colour.

    Attributes
    ----------
    matrix : ndarray of shape (3, 3)
        ``xyz_from_rgb``: the whole map, or what holds outside ``hull``.
    white : ndarray of shape (3,)
        Light of the strip's paper; light is taken relative to it.
    linear : ndarray of shape (3, 3)
        The root-polynomial's linear part; equals ``matrix`` where there is none.
    squares : ndarray of shape (3, 3) or None
        Its factors of (√r - √g)², (√g - √b)² and (√r - √b)², one row per X, Y, Z,
        with r, g, b relative to the paper. None: a plain 3x3.
    hull : Hull or None
        The shares of light of the paints that prove it.
    """

    matrix: FloatArray
    white: FloatArray
    linear: FloatArray
    squares: FloatArray | None = None
    hull: Hull | None = None

    def xyz(self, light: FloatArray) -> FloatArray:
        """Give XYZ of linear light, both of shape (..., 3)."""
        plain: FloatArray = light @ self.matrix.T
        if self.squares is None or self.hull is None:
            return plain
        total, part = shares(light, self.white)
        return plain + total[..., None] * self.bend(part)

    def bend(self, part: FloatArray) -> FloatArray:
        """Give what the root-polynomial adds to the 3x3, per total light of 1.

        Parameters
        ----------
        part : ndarray of shape (..., 2)
            Shares of red and blue in the light relative to the paper's.

        Returns
        -------
        ndarray of shape (..., 3)
            XYZ; none beyond the hull's rim.
        """
        if self.squares is None or self.hull is None:
            return np.zeros((*part.shape[:-1], 3))
        red, blue = part[..., 0], part[..., 1]
        relative = np.clip(np.stack([red, 1.0 - red - blue, blue], axis=-1), 0.0, None)
        more = relative * self.white @ (self.linear - self.matrix).T
        more = more + squared_roots(relative) @ self.squares.T
        result: FloatArray = more * self.hull.trust(part)[..., None]
        return result

    @property
    def coefficients(self) -> FloatArray | None:
        """The root-polynomial on `TERMS` of the light itself, shape (3, 6)."""
        if self.squares is None:
            return None
        of_terms = np.array([[1, 1, 0, -2, 0, 0], [0, 1, 1, 0, -2, 0], [1, 0, 1, 0, 0, -2]])
        r, g, b = 1.0 / self.white
        scale = np.array([r, g, b, np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)])
        wide = np.concatenate([self.linear, np.zeros((3, 3))], axis=1)
        result: FloatArray = wide + self.squares @ of_terms * scale
        return result


def plain_map(xyz_from_rgb: FloatArray, white: FloatArray) -> ColourMap:
    """Give the map that is a 3x3 and nothing more."""
    return ColourMap(matrix=xyz_from_rgb, white=white, linear=xyz_from_rgb)


def shares(light: FloatArray, white: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Total light (...,) relative to the paper, and the shares of red and blue (..., 2)."""
    relative = light / white
    total = np.maximum(relative.sum(axis=-1), DARKEST)
    return total, relative[..., [0, 2]] / total[..., None]


def squared_roots(relative: FloatArray) -> FloatArray:
    """Squares of the differences of roots, (..., 3), of light relative to the paper."""
    r, g, b = np.moveaxis(np.sqrt(np.maximum(relative, 0.0)), -1, 0)
    return np.stack([(r - g) ** 2, (g - b) ** 2, (r - b) ** 2], axis=-1)


def root_terms(light: FloatArray) -> FloatArray:
    """Give `TERMS` of light (..., 3), shape (..., 6)."""
    r, g, b = np.moveaxis(np.maximum(light, 0.0), -1, 0)
    return np.stack([r, g, b, np.sqrt(r * g), np.sqrt(g * b), np.sqrt(r * b)], axis=-1)
