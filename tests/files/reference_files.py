"""Small reference files for the checks: one good one, and ways to spoil it."""

from __future__ import annotations

import numpy as np

from colormatch.colour.science import colour_science
from colormatch.model import FloatArray

LAB = {
    "A1": (95.0, 0.5, -2.0),
    "A2": (70.12, 0.1, 0.4),
    "A3": (50.25, -0.2, 0.3),
    "A4": (25.5, 0.4, -0.6),
    "B1": (45.0, 60.5, 38.25),
    "B2": (55.75, -48.0, 30.5),
    "B3": (30.25, 15.5, -52.75),
    "B4": (85.5, -5.25, 78.0),
}

HEAD = """CGATS.17
ORIGINATOR\t"a test"
FILE_DESCRIPTOR\t"eight patches"
CREATED\t"2024-05-06"
INSTRUMENTATION\t"a spectrophotometer"
SAMPLE_BACKING\t"black"
NUMBER_OF_FIELDS\t4
BEGIN_DATA_FORMAT
SAMPLE_ID\tLAB_L\tLAB_A\tLAB_B
END_DATA_FORMAT
NUMBER_OF_SETS\t8
BEGIN_DATA
"""

ROWS = "".join(f"{name}\t{lab[0]:g}\t{lab[1]:g}\t{lab[2]:g}\n" for name, lab in LAB.items())

GOOD = HEAD + ROWS + "END_DATA\n"


def expected_xyz() -> FloatArray:
    """Give the XYZ of `LAB` by colour-science, in the ICC D50."""
    colour = colour_science()
    white = colour.XYZ_to_xy(np.array([0.9642, 1.0, 0.8249]))
    return np.asarray(colour.Lab_to_XYZ(np.array(list(LAB.values())), white))


def table_of(columns: str, values: FloatArray, names: tuple[str, ...] = tuple(LAB)) -> str:
    """Write a file with other columns."""
    rows = "".join(
        f"{name}\t" + "\t".join(f"{value:.8g}" for value in row) + "\n"
        for name, row in zip(names, values, strict=True)
    )
    return (
        f"CGATS.17\nBEGIN_DATA_FORMAT\nSAMPLE_ID {columns}\nEND_DATA_FORMAT\n"
        f"BEGIN_DATA\n{rows}END_DATA\n"
    )
