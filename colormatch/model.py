"""Records that pass between the stages: frozen, keyword-only, no arithmetic.

Points are ``(x, y)``, x to the right and y down, pixel centres at whole
numbers; lengths on the target are millimetres from its top left corner.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.floating]
"""Any floating array; the docstring beside it says which shape."""


class Progress(Protocol):
    """Told how much of a task is done; the command line draws the bar."""

    def __call__(self, label: str, done: float) -> None:
        """Report ``done``, 0 to 1, of the task called ``label``."""


def silent(label: str, done: float) -> None:
    """Report nothing: the default progress."""


@dataclass(frozen=True, kw_only=True)
class Window:
    """A rectangle of whole pixels inside a picture."""

    row: int
    column: int
    height: int
    width: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Scan:
    """One scan file, upright, its pixels reachable by window.

    Attributes
    ----------
    path : Path
        Where it came from.
    width, height : int
        Size in pixels after the orientation tag was honoured.
    bits : int
        Bits per channel as stored, 8 or 16.
    ppi : tuple of float or None
        Pixels per inch along x and y; None if the file does not say.
    profile : bytes or None
        The embedded ICC profile.
    format : str
        ``"tiff"``, ``"png"`` or ``"jpeg"``.
    notes : tuple of str
        What was noticed on reading: alpha dropped, turned by the tag.
    device : str
        Make and model of the scanner as the file states them; empty if it does not.
    read : callable
        ``read(window)`` gives uint8 or uint16 RGB of shape (height, width, 3).
    close : callable
        Lets go of the file and of any memory held for it.
    direct : bool
        Whether a window is only copied, not decoded, and several threads may read.
    """

    path: Path
    width: int
    height: int
    bits: int
    ppi: tuple[float, float] | None
    profile: bytes | None
    format: str
    notes: tuple[str, ...] = ()
    device: str = ""
    read: Callable[[Window], NDArray[np.uint8] | NDArray[np.uint16]]
    close: Callable[[], None]
    direct: bool = False


@dataclass(frozen=True, kw_only=True, eq=False)
class Survey:
    """A whole scan in small, and what a mean hides.

    Attributes
    ----------
    step : int
        Scan pixels along the side of a block.
    small : ndarray of float32, shape (h, w, 3)
        Mean of each block, encoded, 0 to 1.
    lightest, darkest : ndarray of uint8 or uint16, shape (h, w, 3)
        Largest and smallest code in each block, channel by channel.
    lines : ndarray of float32, shape (K, w * step, 3)
        Across the scan at full resolution, each the mean of ``step`` rows.
    line_rows : ndarray of shape (K,)
        Middles of those rows, scan pixels.
    lanes : ndarray of float32, shape (h * step, L, 3)
        Down the scan at full resolution: mean of every row in each of L lanes
        side by side.
    """

    step: int
    small: FloatArray
    lightest: NDArray[np.uint8] | NDArray[np.uint16]
    darkest: NDArray[np.uint8] | NDArray[np.uint16]
    lines: FloatArray
    line_rows: FloatArray
    lanes: FloatArray


RING_EDGES: dict[str, tuple[float, ...]] = {
    "hoop": (1.0, 0.74, 0.46, 0.17),
    "eye": (0.74, 0.46, 0.17),
}
"""The kinds of marks: radii, as shares of the outer one, where ink and paper meet.

From outside in, ink begins at the first, paper at the second, and so on; outside
all of them, up to the mark's own radius, is paper. One kind is the other's negative.
"""


@dataclass(frozen=True, kw_only=True)
class Mark:
    """One ring mark of a target; ``x`` and ``y`` are its centre, mm.

    ``kind`` is a key of `RING_EDGES`.
    """

    id: str
    kind: str
    x: float
    y: float
    diameter: float


@dataclass(frozen=True, kw_only=True)
class Patch:
    """One patch of a target; ``x`` and ``y`` are its top left corner, mm.

    ``role`` is ``"neutral"``, ``"chromatic"``, ``"paper"``, ``"flare"``
    (a dark patch printed twice, once on white and once on black, so that
    light scattered from the surroundings can be told from the ink), or
    ``"unstated"``: its reference value tells whether it is neutral.
    """

    id: str
    x: float
    y: float
    width: float
    height: float
    role: str = "chromatic"


@dataclass(frozen=True, kw_only=True)
class Field:
    """A ground printed under patches; ``x`` and ``y`` are its top left corner, mm.

    ``kind`` is ``"white"`` (bare paper), ``"black"`` (the darkest neutral) or
    ``"grey"`` (lightness 50). Fields are drawn in their order, patches over them.
    """

    id: str
    x: float
    y: float
    width: float
    height: float
    kind: str


@dataclass(frozen=True, kw_only=True)
class Symbol:
    """Where a target bears the symbol that names the sheet; top left corner and side, mm.

    ``design`` is what the symbol calls the target's design, such as ``"SL1"``. The
    bare paper round the symbol is not part of its side.
    """

    design: str
    x: float
    y: float
    side: float


@dataclass(frozen=True, kw_only=True)
class Layout:
    """A target's design: where its marks and patches are, in millimetres.

    ``symbol`` is None for a design that has none. Without marks a target is found by
    the colours of its patches.
    """

    name: str
    width: float
    height: float
    marks: tuple[Mark, ...]
    patches: tuple[Patch, ...]
    fields: tuple[Field, ...] = ()
    symbol: Symbol | None = None


@dataclass(frozen=True, kw_only=True, eq=False)
class Reference:
    """What a target's patches measure.

    Attributes
    ----------
    ids : tuple of str
        Patch names, in the order of the rows of ``xyz``.
    xyz : ndarray of shape (N, 3)
        CIE XYZ for D50 and the 2 degree observer, Y of the perfect diffuser 1.
    kind : str
        ``"measured"``, ``"carried over"`` (read by a scanner from a measured sheet
        beside it) or ``"nominal"`` (the colours asked of the printer, never
        measured).
    sigma : ndarray of shape (N,) or None
        Standard uncertainty of each patch, ΔE2000; None if the file states none.
    facts : dict
        Condition, backing, instrument, date and the like, as the file states.
    notes : tuple of str
        What was odd in the file and how it was taken.
    path : Path or None
        Where the values came from.
    """

    ids: tuple[str, ...]
    xyz: FloatArray
    kind: str
    facts: dict[str, str] = field(default_factory=dict)
    notes: tuple[str, ...] = ()
    path: Path | None = None
    sigma: FloatArray | None = None

    @property
    def uncertainty(self) -> float | None:
        """Mean of the uncertainties, ΔE2000; None if none are stated."""
        return None if self.sigma is None else float(np.mean(self.sigma))

    @property
    def serials(self) -> tuple[str, ...]:
        """The sheets the values are of, as far as the file states them."""
        return tuple(self.facts.get("serial", "").upper().replace(",", " ").split())


@dataclass(frozen=True, kw_only=True, eq=False)
class StripReading:
    """One strip as found and read in one scan.

    All per-patch arrays have one row per patch of ``layout``, in its order.

    Attributes
    ----------
    layout : Layout
        The design that was recognised.
    px_from_mm : ndarray of shape (2, 3)
        Affine map from strip millimetres to scan pixels:
        ``px = px_from_mm[:, :2] @ mm + px_from_mm[:, 2]``.
    marks_px : dict
        Centre in scan pixels, ``(x, y)``, of each mark that was seen, by id.
    marks_residual : float
        RMS distance of the seen marks from the pose, pixels.
    centres : ndarray of shape (N, 2)
        Patch centres in scan pixels, ``(x, y)``.
    rgb : ndarray of shape (N, 3)
        Robust mean of each patch, as encoded in the file, 0 to 1.
    spread : ndarray of shape (N, 3)
        Robust standard deviation of the pixels in the patch, same unit.
    inliers : ndarray of shape (N,)
        Share of pixels kept, 0 to 1.
    clipped : ndarray of shape (N,)
        Share of pixels with a channel at its lowest or highest code.
    halves : ndarray of shape (N, 2, 3)
        Right minus left half and lower minus upper half, as the strip reads when
        upright, same unit as rgb.
    usable : ndarray of bool, shape (N,)
        False where the patch is covered, clipped or outside the scan.
    serial : str
        Which sheet of the design it is, as its symbol states; empty if it does not.
    symbol : str
        How the symbol was met: ``"read"``, ``"unreadable"``, ``"not printed"``
        (sheets printed before there was one, and designs without), or the text
        of another design's symbol.
    """

    layout: Layout
    px_from_mm: FloatArray
    marks_px: dict[str, tuple[float, float]]
    marks_residual: float
    centres: FloatArray
    rgb: FloatArray
    spread: FloatArray
    inliers: FloatArray
    clipped: FloatArray
    halves: FloatArray
    usable: NDArray[np.bool_]
    serial: str = ""
    symbol: str = "not printed"


@dataclass(frozen=True, kw_only=True)
class KeptRegion:
    """A place the user wants from one tile.

    Attributes
    ----------
    tile : str
        The scan's file name.
    polygon : tuple of (float, float)
        Corners (x, y) in painting millimetres, three or more.
    where : str
        How messages call it: the file and the item.
    """

    tile: str
    polygon: tuple[tuple[float, float], ...]
    where: str


@dataclass(frozen=True, kw_only=True)
class WholeBox:
    """A box, ``(x, y, width, height)`` in painting millimetres, that no seam may cross.

    ``where`` is how messages call it: the file and the item.
    """

    box: tuple[float, float, float, float]
    where: str


@dataclass(frozen=True, kw_only=True)
class Regions:
    """What the user decided about seams."""

    keep: tuple[KeptRegion, ...] = ()
    whole: tuple[WholeBox, ...] = ()
