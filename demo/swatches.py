"""A sheet of the painter's own paints: boxes brushed by hand, and their measured values."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from colormatch.colour.spaces import lab_from_xyz
from colormatch.drawing import draw_raster
from colormatch.drawing.swatch_layout import swatch_layout
from colormatch.model import FloatArray, Layout, Reference

from . import paints
from .canvas import NODES
from .geometry import Placing
from .scene import Scene
from .settings import ScannerModel, StripPlace, TileSettings
from .spectra import xyz_from_spectra
from .strip import PrintedStrip, printed_strip
from .texture import fractal

COUNT = 24
CHOICES = ("own", "tubes", "ten-tubes")
"""What is on the sheet: mixtures of the picture itself; every tube, plain and with white;
or those of ten tubes of fifteen, though the picture needs all."""

SURFACES = {
    "coast": paints.GOUACHE,
    "dark-oil": paints.VARNISHED_OIL,
    "abstract": paints.ACRYLIC,
}
MISSING = ("wine lake", "harbour blue", "orange", "meadow green", "heather violet")
"""Tubes that are not on a sheet of ten."""

READING_NOISE = 0.3 / np.sqrt(3)
"""Standard deviation of each of L*, a* and b* of a reading: 0.3 ΔE in all."""
UNEVEN = 0.03
"""How much the load of one brushed box varies."""
LEVELS = 5
PPI = 300.0
LEAST_SHARE = 2e-4
"""Part of the picture from which a mixture counts as one of its paints."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Paints:
    """What goes into the boxes.

    Attributes
    ----------
    names : tuple of str
    levels : ndarray of shape (N, LEVELS, 36)
        Reflectance from the thinnest to the thickest place of each box.
    """

    names: tuple[str, ...]
    levels: FloatArray


def chosen_paints(scene: Scene, choice: str) -> Paints:
    """Choose what the painter puts on the sheet: one of `CHOICES`."""
    if choice == "own":
        return own_paints(scene)
    if choice not in CHOICES:
        raise ValueError(f"choice must be one of {', '.join(CHOICES)} (got {choice!r})")
    left_out = MISSING if choice == "ten-tubes" else ()
    tubes = [name for name in paints.pigments() if name not in left_out]
    return tube_paints(tubes, SURFACES[scene.kind])


def own_paints(scene: Scene) -> Paints:
    """Take mixtures off the picture, each as unlike those taken before as possible."""
    key = scene.paint[::4, ::4].astype(np.int64) * 256 + scene.load[::4, ::4]
    numbers, counts = np.unique(key, return_counts=True)
    numbers = numbers[counts >= LEAST_SHARE * key.size]
    number, load = numbers // 256, numbers % 256 / 255
    lab = lab_from_xyz(xyz_from_spectra(_at(scene, number, load)))
    picked = [int(np.argmax(lab[:, 0]))]
    away = np.linalg.norm(lab - lab[picked[0]], axis=1)
    while len(picked) < min(COUNT, len(numbers)):
        picked.append(int(away.argmax()))
        away = np.minimum(away, np.linalg.norm(lab - lab[picked[-1]], axis=1))
    spread = np.linspace(-UNEVEN, UNEVEN, LEVELS)
    levels = [_at(scene, np.full(LEVELS, number[i]), load[i] + spread) for i in picked]
    names = tuple(f"mixture {k}" for k in range(1, len(picked) + 1))
    return Paints(names=names, levels=np.stack(levels))


def _at(scene: Scene, number: FloatArray, load: FloatArray) -> FloatArray:
    """Reflectance (N, 36) of paints at loads."""
    place = np.clip(load, 0.0, 1.0) * (NODES - 1)
    low = np.minimum(place.astype(int), NODES - 2)
    share = (place - low)[:, None]
    ends = scene.spectra[number, low], scene.spectra[number, low + 1]
    return np.asarray((1 - share) * ends[0] + share * ends[1])


def tube_paints(tubes: list[str], surface: paints.Surface) -> Paints:
    """Paint tubes plainly, and as many as there is room for with white."""
    coloured = [name for name in tubes if name not in ("chalk white", "soot black")]
    recipes: list[tuple[str, paints.Recipe]] = [(name, {name: 1.0}) for name in tubes]
    for white in (1.0, 4.0):
        recipes += [(f"{name} with white", {name: 1.0, "chalk white": white}) for name in coloured]
    recipes = recipes[:COUNT]
    levels = [
        paints.blend(
            recipe,
            {**recipe, "chalk white": recipe.get("chalk white", 0) + UNEVEN},
            surface,
            LEVELS,
        )
        for _, recipe in recipes
    ]
    return Paints(names=tuple(name for name, _ in recipes), levels=np.stack(levels))


def painted_sheet(chosen: Paints, rng: np.random.Generator) -> PrintedStrip:
    """Print the sheet and brush the paints into its boxes, over or short of the lines."""
    layout = swatch_layout(len(chosen.names))
    blank = Reference(
        ids=tuple(patch.id for patch in layout.patches),
        xyz=np.tile([0.9642, 1.0, 0.8249], (len(layout.patches), 1)),
        kind="nominal",
    )
    sheet = printed_strip(layout, draw_raster(layout, blank, PPI), ppi=PPI)
    colour = sheet.colour.copy()
    grain = fractal(colour.shape, rng, coarsest=3 * PPI / 25.4, slope=0.7)
    level = np.clip((grain / 2 + 1) / 2 * LEVELS, 0, LEVELS - 1).astype(np.int32)
    y, x = np.indices(colour.shape) * 25.4 / PPI
    rag = 0.5 * fractal(colour.shape, rng, coarsest=4 * PPI / 25.4, slope=1.0)
    for k, patch in enumerate(layout.patches):
        left, top, right, bottom = rng.uniform(-0.8, 1.2, 4)
        inside = (x > patch.x + left + rag) & (x < patch.x + patch.width - right + rag)
        inside &= (y > patch.y + top - rag) & (y < patch.y + patch.height - bottom - rag)
        colour[inside] = len(sheet.spectra) + k * LEVELS + level[inside]
    spectra = np.concatenate([sheet.spectra, chosen.levels.reshape(-1, chosen.levels.shape[-1])])
    return replace(sheet, colour=colour, spectra=spectra)


def measured_table(sheet: PrintedStrip, chosen: Paints, rng: np.random.Generator) -> str:
    """Give the table of values, filled in as a print shop's reading of each middle gives them."""
    rows = ["id,paint,LAB_L,LAB_A,LAB_B"]
    for patch, name in zip(sheet.layout.patches, chosen.names, strict=True):
        lab = lab_from_xyz(middle_xyz(sheet, patch.id))
        lab = lab + READING_NOISE * rng.standard_normal(3)
        rows.append(f"{patch.id},{name}," + ",".join(f"{value:.2f}" for value in lab))
    return "\n".join(rows) + "\n"


def middle_xyz(sheet: PrintedStrip, box: str, aperture: float = 6.0) -> FloatArray:
    """Mean XYZ (3,) of the middle of a box, seen through an aperture of so many mm."""
    (patch,) = (patch for patch in sheet.layout.patches if patch.id == box)
    per_mm, half = sheet.ppi / 25.4, aperture / 2
    x, y = patch.x + patch.width / 2, patch.y + patch.height / 2
    rows = slice(int((y - half) * per_mm), int((y + half) * per_mm))
    columns = slice(int((x - half) * per_mm), int((x + half) * per_mm))
    numbers, counts = np.unique(sheet.colour[rows, columns], return_counts=True)
    mean = (sheet.spectra[numbers] * counts[:, None]).sum(axis=0) / counts.sum()
    return xyz_from_spectra(mean)


def sheet_on_glass(first: TileSettings, scanner: ScannerModel, layout: Layout) -> TileSettings:
    """Lay the sheet where the painting was, the strip of the first tile beside it."""
    width, height = scanner.glass
    strip = first.strips[0]
    above = strip.placing.at[1] < height / 2
    middle = height / 2 + (14.0 if above else -14.0)
    sheet = StripPlace(
        layout=layout.name,
        placing=Placing(
            centre=(layout.width / 2, layout.height / 2), at=(width / 2, middle), slant=0.4
        ),
    )
    nowhere = Placing(centre=(0.0, 0.0), at=(9 * width, 9 * height))
    return replace(
        first,
        placing=nowhere,
        strips=(strip, sheet),
        exposure=0.97 * first.exposure,
        phase=first.phase + 1.7,
        crease=None,
        lifted=None,
        glare=0,
        dust=15,
        hairs=1,
    )
