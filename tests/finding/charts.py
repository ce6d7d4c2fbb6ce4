"""Invented charts without marks, printed by the demo's inks and laid into invented scans."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from colormatch.model import Field, FloatArray, Layout, Patch, Reference
from demo.inks import print_spectra, with_black
from demo.spectra import sensor_weights, xyz_from_spectra
from demo.strip import PrintedStrip
from tests.finding import scenes

MEASURED = 0.17
"""Standard deviation of each of L*, a*, b* of the reference: about 0.3 ΔE in all."""


@dataclass(frozen=True, kw_only=True, eq=False)
class Chart:
    """A printed chart: its design, its measured values, the spectra of its patches."""

    layout: Layout
    reference: Reference
    spectra: FloatArray

    def light(self, lamp: str, sensor: str) -> FloatArray:
        """Linear light (N, 3) of the patches as a scanner sees them."""
        return self.spectra @ sensor_weights(lamp, sensor).T


def chart_layout(
    rows: int = 4,
    columns: int = 12,
    *,
    patch: tuple[float, float] = (7.0, 7.0),
    gap: tuple[float, float] = (1.0, 1.0),
    rim: float = 3.0,
    ground: str = "black",
) -> Layout:
    """Lay out a plain grid, lengths in mm."""
    across, down = patch[0] + gap[0], patch[1] + gap[1]
    width, height = columns * across - gap[0] + 2 * rim, rows * down - gap[1] + 2 * rim
    return Layout(
        name="plain",
        width=width,
        height=height,
        marks=(),
        patches=tuple(
            Patch(
                id=f"{chr(65 + r)}{c + 1}",
                x=rim + c * across,
                y=rim + r * down,
                width=patch[0],
                height=patch[1],
                role="unstated",
            )
            for r in range(rows)
            for c in range(columns)
        ),
        fields=(Field(id="ground", x=0, y=0, width=width, height=height, kind=ground),),
    )


def printed_chart(layout: Layout, rng: np.random.Generator, *, twins: int = 0) -> Chart:
    """Print a chart in random order: a sixth greys, the rest spread over the inks.

    ``twins`` patches are nearly the colour of the one to their left.
    """
    count = len(layout.patches)
    greys = max(4, count // 6)
    tones = np.linspace(0.0, 0.95, greys)
    coverage = np.concatenate(
        [
            with_black(np.column_stack([tones * 0.93, tones * 0.85, tones * 0.85])),
            with_black(rng.uniform(0, 1, (count - greys, 3)) ** rng.choice([0.6, 1, 2], (1, 3))),
        ]
    )
    coverage = coverage[rng.permutation(count)]
    for twin in rng.choice(np.arange(1, count), twins, replace=False):
        near = coverage[twin - 1] + rng.uniform(-0.015, 0.015, 4)
        coverage[twin] = np.clip(near, 0, 1)
    spectra = print_spectra(coverage)
    xyz = xyz_from_spectra(spectra)
    reference = Reference(
        ids=tuple(p.id for p in layout.patches), xyz=measured(xyz, rng), kind="measured"
    )
    return Chart(layout=layout, reference=reference, spectra=spectra)


def measured(xyz: FloatArray, rng: np.random.Generator, sigma: float = MEASURED) -> FloatArray:
    """Measure colours with an instrument's noise."""
    from colormatch.colour.spaces import lab_from_xyz, xyz_from_lab

    noisy = lab_from_xyz(xyz) + rng.normal(0, sigma, xyz.shape)
    return np.maximum(xyz_from_lab(noisy), 1e-5)


def lay_chart(
    sheet: scenes.Canvas,
    layout: Layout,
    light: FloatArray,
    px_from_mm: FloatArray,
) -> None:
    """Lay a chart on a scene; ``light`` (N, 3) is that of its patches."""
    grounds = {"black": 0.03, "white": 0.86, "grey": 0.2}
    for item in layout.fields:
        tone = np.full(3, grounds[item.kind])
        scenes.box(sheet.light, px_from_mm, (item.x, item.y, item.width, item.height), tone)
    for patch, value in zip(layout.patches, light, strict=True):
        scenes.box(sheet.light, px_from_mm, (patch.x, patch.y, patch.width, patch.height), value)


def centres(layout: Layout) -> FloatArray:
    """Middles of the patches, (N, 2), mm."""
    return np.array([(p.x + p.width / 2, p.y + p.height / 2) for p in layout.patches])


def paint_squares(sheet: scenes.Canvas, layout: Layout, rng: np.random.Generator) -> None:
    """Fill a painting with grids of plain squares, some of the very pitch of the chart."""
    per_mm = sheet.scene.ppi / 25.4
    width, height = sheet.scene.width / per_mm, sheet.scene.height / per_mm
    pitch = layout.patches[1].x - layout.patches[0].x
    side = layout.patches[0].width
    for _ in range(int(rng.integers(3, 7))):
        grown = rng.choice([1.0, 1.0, rng.uniform(0.5, 2.0)])
        rows, columns = rng.integers(4, 14, 2)
        turn = np.radians(90 * rng.integers(4) + rng.uniform(-5, 5))
        linear = (
            grown * per_mm * np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]])
        )
        start = np.array([rng.uniform(0, width), rng.uniform(0, height)]) * per_mm
        middle = np.array([columns, rows]) * pitch / 2
        pose = np.column_stack([linear, start - linear @ middle])
        ramp = rng.uniform(0, 1, (2, 3)) if rng.random() < 0.3 else None
        for row in range(rows):
            for column in range(columns):
                light = rng.uniform(0.02, 0.9, 3)
                if ramp is not None:
                    light = 0.05 + 0.8 * (ramp[0] * row / rows + ramp[1] * column / columns) / 2
                box = (column * pitch, row * pitch, side, side)
                scenes.box(sheet.light, pose, box, light)


def printed_sheet(chart: Chart, ppi: float = 600.0) -> PrintedStrip:
    """Give a chart as a sheet that the demo's scanner can scan; the ground is paper."""
    layout, per_mm = chart.layout, ppi / 25.4
    rows, columns = round(layout.height * per_mm), round(layout.width * per_mm)
    colour = np.full((rows, columns), len(layout.patches), np.int32)
    for i, p in enumerate(layout.patches):
        left, right = round(p.x * per_mm), round((p.x + p.width) * per_mm)
        top, bottom = round(p.y * per_mm), round((p.y + p.height) * per_mm)
        colour[top:bottom, left:right] = i
    spectra = np.vstack([chart.spectra, print_spectra(np.zeros((1, 4)))])
    return PrintedStrip(layout=layout, ppi=ppi, colour=colour, spectra=spectra)
