"""Numbers in cells."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from colormatch.errors import ReferenceFileError
from colormatch.files.tables import Table, numbers


def _table(*cells: str) -> Table:
    return Table(
        where="file.txt",
        columns=("SAMPLE_ID", "LAB_L"),
        rows=tuple((f"A{i}", cell) for i, cell in enumerate(cells)),
        lines=tuple(range(10, 10 + len(cells))),
    )


def _ids(table: Table) -> list[str]:
    return [row[0] for row in table.rows]


@given(st.lists(st.floats(-1e6, 1e6), min_size=1), st.sampled_from(["", "e", ".3f", "+g"]))
def test_reads_what_python_writes(values: list[float], form: str) -> None:
    cells = [format(value, form) for value in values]
    table = _table(*cells)
    read, notes = numbers(table, [1], _ids(table))
    np.testing.assert_array_equal(read[:, 0], [float(cell) for cell in cells])
    assert notes == ()


@given(st.lists(st.floats(-1e6, 1e6), min_size=1))
def test_decimal_commas_keep_their_decimals(values: list[float]) -> None:
    cells = [f"{value:.2f}" for value in values]
    table = _table(*(cell.replace(".", ",") for cell in cells))
    read, notes = numbers(table, [1], _ids(table))
    np.testing.assert_array_equal(read[:, 0], [float(cell) for cell in cells])
    assert notes == ("decimal commas were read as decimal points",)


@pytest.mark.parametrize(
    ("cells", "message"),
    [
        (("1", "nan"), "line 11, patch A1: LAB_L is 'nan', not a number"),
        (("1", "-inf"), "line 11, patch A1: LAB_L is '-inf', not a number"),
        (("1e999",), "line 10, patch A0: LAB_L is '1e999', not a number"),
        (("1", "", "3"), "line 11, patch A1: LAB_L is empty"),
        (("1", "-"), "LAB_L is '-', not a number"),
        (("1", "n/a"), "LAB_L is 'n/a', not a number"),
        (("1_000",), "LAB_L is '1_000', not a number"),
        (("0x10",), "LAB_L is '0x10', not a number"),
        (("٣",), "LAB_L is '٣', not a number"),
        (("1,2,3",), "LAB_L is '1,2,3', not a number"),
        (("x" * 99,), "LAB_L is '" + "x" * 37 + "...', not a number"),
        (("12,34", "5.6"), "line 10, patch A0: numbers with decimal commas, and in line 11"),
        (("5.6", "12,34"), "line 11, patch A1: numbers with decimal commas, and in line 10"),
        (("1.234,5",), "numbers with decimal commas, and in line 10 numbers with points"),
    ],
)
def test_doubtful_cells_are_refused_with_their_place(cells: tuple[str, ...], message: str) -> None:
    table = _table(*cells)
    with pytest.raises(ReferenceFileError, match=re.escape(message)) as caught:
        numbers(table, [1], _ids(table))
    assert str(caught.value).startswith("file.txt: ")
