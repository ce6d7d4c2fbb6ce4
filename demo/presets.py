"""Ready-made jobs: which painting, which scanner, which tiles."""

from __future__ import annotations

from dataclasses import dataclass

from .geometry import Placing
from .settings import Crease, Lifted, ScannerModel, StripPlace, TileSettings

GLASS = (190.0, 215.0)
"""Width and height of each scan, mm."""


@dataclass(frozen=True, kw_only=True)
class Preset:
    """One job of the demo.

    Attributes
    ----------
    name, about : str
        What it is called and what is special about it.
    kind : str
        Of `scene.KINDS`.
    size : tuple of float
        The painting's sheet, mm.
    scanner : ScannerModel
        At 300 ppi; replace what should differ.
    tiles : tuple of TileSettings
        In the order of the files.
    """

    name: str
    about: str
    kind: str
    size: tuple[float, float]
    scanner: ScannerModel
    tiles: tuple[TileSettings, ...]


def presets() -> dict[str, Preset]:
    """All ready-made jobs, by name."""
    jobs = (_two_tiles(), _dark_oil(), _fluorescent(), _three_led(), _four_tiles(), _turned())
    return {job.name: job for job in jobs}


def _strip(
    turns: int, slant: float, *, x: float, y: float, layout: str = "strip-long"
) -> StripPlace:
    middle = {"strip-long": (90.0, 11.0), "strip-short": (45.0, 11.0)}[layout]
    return StripPlace(
        layout=layout, placing=Placing(centre=middle, at=(x, y), turns=turns, slant=slant)
    )


def _pair(size: tuple[float, float]) -> tuple[Placing, Placing]:
    """Left and right part of a painting that is only too wide."""
    width, height = size
    left = Placing(centre=(0.0, height / 2), at=(9.0, 4 + height / 2), slant=0.35)
    right = Placing(centre=(width, height / 2), at=(GLASS[0] - 7.0, 4.5 + height / 2), slant=-0.5)
    return left, right


def _two_tiles() -> Preset:
    size = (240.0, 180.0)
    left, right = _pair(size)
    first = TileSettings(
        placing=left,
        strips=(_strip(0, 0.6, x=94, y=200.5),),
        exposure=0.86,
        gains=(1.0, 0.985, 1.01),
        dust=25,
        hairs=2,
    )
    second = TileSettings(
        placing=right,
        strips=(_strip(2, -0.4, x=95, y=200.5),),
        exposure=0.80,
        gains=(1.01, 1.0, 0.975),
        phase=2.1,
        dust=18,
        hairs=1,
    )
    scanner = ScannerModel(wobble=0.035, stretch=1.0006, tone="srgb")
    about = "watercolour, white LED, two tiles with different exposure"
    return Preset(
        name="two-tiles",
        about=about,
        kind="coast",
        size=size,
        scanner=scanner,
        tiles=(first, second),
    )


def _dark_oil() -> Preset:
    size = (230.0, 178.0)
    left, right = _pair(size)
    first = TileSettings(
        placing=left,
        strips=(_strip(0, -0.8, x=95, y=200.0),),
        exposure=0.9,
        crease=Crease(side="top"),
        dust=30,
        hairs=3,
        glare=40,
    )
    second = TileSettings(
        placing=right,
        strips=(_strip(0, 0.5, x=94, y=200.5),),
        exposure=0.84,
        gains=(0.99, 1.0, 1.02),
        phase=1.0,
        lifted=Lifted(side="right", width=18),
        dust=22,
        hairs=1,
        glare=40,
    )
    scanner = ScannerModel(
        sensor="leaning",
        tone="power",
        flare=0.03,
        flare_far=45.0,
        cavity=0.04,
        relief=0.22,
        vignette=0.02,
        wobble=0.04,
    )
    about = "dark oil on canvas, white LED, 3 % of stray light, a crease and a lifted edge"
    return Preset(
        name="dark-oil",
        about=about,
        kind="dark-oil",
        size=size,
        scanner=scanner,
        tiles=(first, second),
    )


def _fluorescent() -> Preset:
    size = (240.0, 178.0)
    left, right = _pair(size)
    first = TileSettings(
        placing=left, strips=(_strip(0, 0.3, x=95, y=200.0),), exposure=0.88, dust=12
    )
    second = TileSettings(
        placing=right,
        strips=(_strip(2, 1.2, x=95, y=200.5),),
        exposure=0.82,
        gains=(1.0, 1.01, 0.97),
        phase=0.7,
        dust=12,
        streaks=1,
    )
    scanner = ScannerModel(
        lamp="fluorescent", sensor="steep", tone="s-curve", vignette=0.05, tilt=0.02, wobble=0.05
    )
    about = "watercolour, fluorescent lamp with fall-off towards its ends, S-curve"
    return Preset(
        name="fluorescent",
        about=about,
        kind="coast",
        size=size,
        scanner=scanner,
        tiles=(first, second),
    )


def _three_led() -> Preset:
    size = (240.0, 178.0)
    left, right = _pair(size)
    first = TileSettings(placing=left, strips=(_strip(0, -0.5, x=95, y=200.5),), exposure=0.9)
    second = TileSettings(
        placing=right,
        strips=(_strip(0, 0.2, x=94, y=200.5),),
        exposure=0.86,
        gains=(0.98, 1.0, 1.01),
        lifted=Lifted(side="right", width=14, blur=0.3),
    )
    scanner = ScannerModel(lamp="three-led", bits=8, tone="power", flare=0.01, vignette=0.03)
    about = "rings and rectangles in acrylic, contact sensor with three LEDs, 8 bits"
    return Preset(
        name="three-led",
        about=about,
        kind="abstract",
        size=size,
        scanner=scanner,
        tiles=(first, second),
    )


def _four_tiles() -> Preset:
    width, height = size = (300.0, 310.0)
    right, bottom = GLASS[0] - 7.0, GLASS[1] - 6.0
    corners = (
        Placing(centre=(0.0, 0.0), at=(7.0, 31.0), slant=0.4),
        Placing(centre=(width, 0.0), at=(right, 31.5), slant=-0.3),
        Placing(centre=(0.0, height), at=(6.5, bottom - 26.0), slant=-0.6),
        Placing(centre=(width, height), at=(right, bottom - 25.5), slant=0.2),
    )
    exposures = (0.88, 0.84, 0.86, 0.80)
    tiles = tuple(
        TileSettings(
            placing=corner,
            strips=(_strip(0, 0.4 - 0.3 * k, x=95, y=14.5 if k < 2 else GLASS[1] - 14.0),),
            exposure=exposures[k],
            gains=(1.0, 1.0 - 0.006 * k, 1.0 + 0.008 * k),
            phase=1.3 * k,
            dust=10,
            crease=Crease(side="bottom", depth=0.2) if k == 2 else None,
        )
        for k, corner in enumerate(corners)
    )
    scanner = ScannerModel(sensor="leaning", vignette=0.04, tilt=-0.015, wobble=0.04, flare=0.02)
    about = "large watercolour in four tiles, white LED, fall-off, one crease"
    return Preset(
        name="four-tiles", about=about, kind="coast", size=size, scanner=scanner, tiles=tiles
    )


def _turned() -> Preset:
    width, height = size = (178.0, 240.0)
    upright = Placing(centre=(width / 2, 0.0), at=(9.0, 93.0), turns=3, slant=1.1)
    other = Placing(centre=(width / 2, height), at=(9.5, 93.5), turns=1, slant=-0.8)
    first = TileSettings(
        placing=upright, strips=(_strip(0, 2.0, x=95, y=200.0),), exposure=0.87, dust=15
    )
    second = TileSettings(
        placing=other,
        strips=(_strip(2, -1.5, x=95, y=200.0),),
        exposure=0.83,
        gains=(1.02, 1.0, 0.98),
        hairs=2,
    )
    scanner = ScannerModel(lid="black", tone="srgb", wobble=0.03, flare=0.02)
    about = "rings and rectangles, tall sheet laid sideways, the second tile turned half round"
    return Preset(
        name="turned",
        about=about,
        kind="abstract",
        size=size,
        scanner=scanner,
        tiles=(first, second),
    )
