"""The rules by which the shipped strips were drawn up; run it to write them again.

``python -m colormatch.targets.design FOLDER`` writes ``strip-long.toml``,
``strip-long.txt``, ``strip-short.toml`` and ``strip-short.txt``, byte for byte as
shipped.

Rules
-----
* Patches of 6 mm, half a millimetre apart, in three rows on mid-grey, a column of
  ring marks at each end.
* The neutral scale, equal steps of lightness, once at each end, with bare paper.
* Chromatic patches by farthest-point sampling: starting from the neutrals, each new
  colour is the one farthest from all chosen before. Distance is taken in CIELAB with
  chroma compressed as the chroma weight of CIEDE2000 compresses it, so that muted
  colours, which paintings are made of, come as close together as they look.
* Candidates are 8-bit sRGB colours inside the convex hull of eight corners that
  an inkjet reaches on matt paper.
* The order is shuffled, then improved by random swaps until neighbours differ and
  place tells nothing about colour.
* Between the marks of the left end, the symbol that names the sheet: modules of four
  pixels at 300 ppi, with the bare paper round them that the standard asks for.
* The long strip prints one dark patch twice, in a white and in a black field as high
  as the strip; the short one has room for two small fields above each other.
"""

from __future__ import annotations

import argparse
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from colormatch.files.layouts import layout_text
from colormatch.files.references import reference_text
from colormatch.model import Field, FloatArray, Layout, Mark, Patch, Reference, Symbol

from .inks import chromatic_codes, codes_from_lab, neutral_codes, nominal_lab, nominal_xyz

HEIGHT = 22.0
SIDE = 6.0
PITCH = 6.5
TOP = 1.5
MARK_DIAMETER = 7.0
MARK_COLUMN = 8.5
FIELD_GAP = 0.5
SYMBOL_SIDE = 5.1
"""15 modules of 0.34 mm."""

FLARE_LIGHTNESS = 15.0
"""Of the dark patch that is printed twice: dark, but off the end of the scale."""

SEED = 2025
SWAPS = 30_000

ALIKE = 8.0
"""CIELAB distance over which the likeness of neighbours falls off."""

DRIFT_WEIGHT = 20.0
"""Of one unit of correlation against one pair of equal neighbours."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """What differs between the strips.

    ``code`` is what the symbol calls the design: new patch places, a new code.
    ``blocks`` are the numbers of patch columns between the fields; ``tall`` says
    whether the fields take the strip's height, side by side, or share it.
    """

    name: str
    code: str
    width: float
    greys: int
    end_columns: int
    blocks: tuple[int, ...]
    tall: bool


PLANS = (
    Plan(
        name="strip-long",
        code="SL1",
        width=180.0,
        greys=10,
        end_columns=5,
        blocks=(8, 5, 8),
        tall=True,
    ),
    Plan(
        name="strip-short",
        code="SS1",
        width=93.0,
        greys=8,
        end_columns=4,
        blocks=(5, 5),
        tall=False,
    ),
)


def column_edges(plan: Plan) -> tuple[list[float], list[tuple[float, float]]]:
    """Give the left edges of the patch columns, and left edge and width of field columns.

    What length the columns leave goes to the fields.
    """
    columns = sum(plan.blocks)
    grounds = len(plan.blocks) - 1
    gaps = columns + grounds - 1
    room = plan.width - 2 * MARK_COLUMN - columns * SIDE - gaps * (PITCH - SIDE)
    field_width = round(room / grounds, 6)
    lefts, fields, x = [], [], MARK_COLUMN
    for block in plan.blocks:
        lefts += [round(x + i * PITCH, 6) for i in range(block)]
        x = round(x + block * PITCH, 6)
        fields.append((x, field_width))
        x = round(x + field_width + FIELD_GAP, 6)
    return lefts, fields[:-1]


def marks(plan: Plan) -> tuple[Mark, ...]:
    """Place the ring marks: unlike at the two ends, so that no turn looks like another."""
    left, right = MARK_COLUMN / 2, plan.width - MARK_COLUMN / 2
    places = (
        ("M1", "eye", left, 4.25),
        ("M2", "hoop", left, 17.75),
        ("M3", "hoop", right, 5.5),
        ("M4", "hoop", right, 15.5),
    )
    return tuple(
        Mark(id=name, kind=kind, x=x, y=y, diameter=MARK_DIAMETER) for name, kind, x, y in places
    )


def symbol(plan: Plan) -> Symbol:
    """Place the symbol midway between the marks of the left end."""
    left, top = (MARK_COLUMN - SYMBOL_SIDE) / 2, (HEIGHT - SYMBOL_SIDE) / 2
    return Symbol(design=plan.code, x=round(left, 6), y=round(top, 6), side=SYMBOL_SIDE)


def fields(plan: Plan, places: list[tuple[float, float]]) -> tuple[Field, ...]:
    """Give the grounds: mid-grey all over, then the white and the black field."""
    grey = Field(id="G", x=0.0, y=0.0, width=plan.width, height=HEIGHT, kind="grey")
    boxes = (
        [(x, 0.0, width, HEIGHT) for x, width in places]
        if plan.tall
        else [(x, y, width, HEIGHT / 2) for x, width in places for y in (0.0, HEIGHT / 2)]
    )
    grounds = [
        Field(id=name, x=x, y=y, width=width, height=height, kind=kind)
        for (name, kind), (x, y, width, height) in zip(
            [("W", "white"), ("K", "black")], boxes, strict=True
        )
    ]
    return (grey, *grounds)


def flare_patches(grounds: tuple[Field, ...]) -> list[Patch]:
    """Put the dark patch in the middle of the white and of the black field."""
    return [
        Patch(
            id=f"F{number:02d}",
            x=round(ground.x + (ground.width - SIDE) / 2, 6),
            y=round(ground.y + (ground.height - SIDE) / 2, 6),
            width=SIDE,
            height=SIDE,
            role="flare",
        )
        for number, ground in enumerate(grounds[1:], start=1)
    ]


def cells(lefts: list[float]) -> FloatArray:
    """Give the patch cells column by column: column and row numbers, x, y; (N, 4)."""
    return np.array(
        [(i, row, x, TOP + row * PITCH) for i, x in enumerate(lefts) for row in range(3)]
    )


def correlations(lab: FloatArray, places: FloatArray) -> FloatArray:
    """Correlate L*, a*, b* with x and y; shape (3, 2), -1 to 1."""
    colour = (lab - lab.mean(axis=0)) / np.maximum(lab.std(axis=0), 1e-9)
    place = (places - places.mean(axis=0)) / np.maximum(places.std(axis=0), 1e-9)
    result: FloatArray = colour.T @ place / len(lab)
    return result


class Scatter:
    """An order of colours in cells, and how far it is from scattered."""

    def __init__(self, lab: FloatArray, cell: FloatArray, ends: FloatArray) -> None:
        apart = np.linalg.norm(lab[:, None] - lab[None], axis=-1)
        near = np.abs(cell[:, None, :2] - cell[None, :, :2]).max(axis=-1) == 1
        self.alike = np.exp(-apart / ALIKE)
        self.first, self.second = np.nonzero(np.triu(near))
        self.lab = lab
        self.places = cell[:, 2:]
        self.scales = [np.flatnonzero(ends == end) for end in (0, 1)]

    def badness(self, order: FloatArray) -> float:
        """Be low when neighbours differ and place says nothing of colour.

        ``order[k]`` is the cell of colour ``k``. The two scales count by themselves
        as well, for the light's fall-off is read from them.
        """
        colour = np.argsort(order)
        alike = self.alike[colour[self.first], colour[self.second]].sum()
        places = self.places[order]
        drift = np.abs(correlations(self.lab, places)).max()
        for scale in self.scales:
            drift += np.abs(correlations(self.lab[scale], places[scale])[0]).max()
        return float(alike + DRIFT_WEIGHT * drift)


def home(ends: FloatArray, count: int, end_cells: int) -> FloatArray:
    """Tell which colour may lie in which cell, bool of shape (count, count).

    ``ends`` is 0 or 1 for colours of the first and the last scale, else -1.
    """
    cell = np.arange(count)
    first, last = cell < end_cells, cell >= count - end_cells
    return np.array([[first, last, first | True][int(end)] for end in ends])


def scattered(
    lab: FloatArray, cell: FloatArray, ends: FloatArray, end_cells: int, rng: np.random.Generator
) -> FloatArray:
    """Give each colour its cell: a shuffle, improved by random swaps."""
    scatter = Scatter(lab, cell, ends)
    allowed = home(ends, len(lab), end_cells)
    order = shuffled(ends, end_cells, rng)
    best = scatter.badness(order)
    for _ in range(SWAPS):
        i, j = rng.integers(len(lab), size=2)
        if not (allowed[i, order[j]] and allowed[j, order[i]]):
            continue
        trial = order.copy()
        trial[[i, j]] = trial[[j, i]]
        value = scatter.badness(trial)
        # The margin keeps the last bits of a sum from deciding.
        if value < best - 1e-6:
            best, order = value, trial
    return order


def shuffled(ends: FloatArray, end_cells: int, rng: np.random.Generator) -> FloatArray:
    """Put the scales somewhere in their ends and the rest anywhere else."""
    count = len(ends)
    order = np.full(count, -1)
    zones = (np.arange(end_cells), np.arange(count - end_cells, count))
    for end, zone in enumerate(zones):
        scale = np.flatnonzero(ends == end)
        order[scale] = rng.permutation(zone)[: len(scale)]
    free = np.setdiff1d(np.arange(count), order)
    order[order < 0] = rng.permutation(free)
    return order


def design(plan: Plan) -> tuple[Layout, Reference]:
    """Draw up one strip."""
    lefts, places = column_edges(plan)
    cell = cells(lefts)
    scale = np.concatenate([neutral_codes(plan.greys), [[255.0] * 3]])
    flare = codes_from_lab(np.array([[FLARE_LIGHTNESS, 0.0, 0.0]]))
    chromatic = chromatic_codes(len(cell) - 2 * len(scale), scale)
    codes = np.concatenate([scale, scale, chromatic])
    ends = np.repeat([0, 1, -1], [len(scale), len(scale), len(chromatic)])
    rng = np.random.default_rng(SEED)
    order = scattered(nominal_lab(codes), cell, ends, 3 * plan.end_columns, rng)
    codes = codes[np.argsort(order)]
    grounds = fields(plan, places)
    patches = [patch(codes[k], cell[k]) for k in range(len(cell))]
    layout = Layout(
        name=plan.name,
        width=plan.width,
        height=HEIGHT,
        marks=marks(plan),
        patches=(*patches, *flare_patches(grounds)),
        fields=grounds,
        symbol=symbol(plan),
    )
    return layout, reference(layout, np.concatenate([codes, flare, flare]))


def patch(code: FloatArray, cell: FloatArray) -> Patch:
    """Describe the patch of one cell."""
    grey = bool(np.ptp(code) == 0)
    role = "paper" if grey and code[0] == 255 else "neutral" if grey else "chromatic"
    name = f"{'ABC'[int(cell[1])]}{int(cell[0]) + 1:02d}"
    return Patch(id=name, x=cell[2], y=cell[3], width=SIDE, height=SIDE, role=role)


def reference(layout: Layout, codes: FloatArray) -> Reference:
    """Give the nominal values: what sRGB says its codes look like."""
    return Reference(
        ids=tuple(patch.id for patch in layout.patches),
        xyz=nominal_xyz(codes),
        kind="nominal",
    )


def files(layout: Layout, values: Reference) -> dict[str, str]:
    """Give the text of a strip's two files, by name."""
    return {
        f"{layout.name}.toml": layout_text(layout),
        f"{layout.name}.txt": reference_text(values, layout.name),
    }


def main() -> None:
    """Write the strips into the folder named on the command line."""
    parser = argparse.ArgumentParser(description="Write the shipped strips again.")
    parser.add_argument("folder", type=Path)
    folder: Path = parser.parse_args().folder
    for plan in PLANS:
        for name, text in files(*design(plan)).items():
            (folder / name).write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
