"""The marks' rings: against the radii themselves."""

from __future__ import annotations

import numpy as np
import pytest

from colormatch.errors import LayoutError
from colormatch.finding.rings import check_kinds, eye_template, ring_edges
from colormatch.model import RING_EDGES, Mark


def test_edges_rise_and_alternate() -> None:
    for kind in RING_EDGES:
        radii, steps, centre = ring_edges(kind)
        assert (np.diff(radii) > 0).all()
        assert (np.diff(steps) != 0).all()
        assert centre == (0 if steps[0] > 0 else 1)


def test_one_kind_is_the_negative_of_the_other() -> None:
    eye, hoop = ring_edges("eye"), ring_edges("hoop")
    np.testing.assert_array_equal(eye[0], hoop[0])
    np.testing.assert_array_equal(eye[1], -hoop[1])
    assert eye[2] + hoop[2] == 1


def test_rings_are_not_those_of_a_two_dimensional_bar_code() -> None:
    # ISO/IEC 18004 gives its finder pattern dark and light widths of 1:1:3:1:1 and lets
    # readers accept half a module more or less.
    for edges in RING_EDGES.values():
        inner = np.array(edges[-3:])
        widths = np.array([inner[0] - inner[1], inner[1] - inner[2], 2 * inner[2]])
        module = (2 * widths[:2].sum() + widths[2]) / 7
        assert not (np.abs(widths / module - [1, 1, 3]) <= 0.5).all()


def test_template_keeps_the_area_of_ink_and_paper() -> None:
    template, disc = eye_template(20.0)
    paper = 1 - 0.74**2 + 0.46**2 - 0.17**2
    assert disc.sum() == pytest.approx(np.pi * 400, rel=1e-3)
    assert template.sum() == pytest.approx(np.pi * 400 * paper, rel=3e-3)


def test_refuses_an_unknown_kind_by_name() -> None:
    mark = Mark(id="M7", kind="star", x=1, y=1, diameter=7)
    with pytest.raises(LayoutError, match=r"layout card: mark M7 has the unknown kind 'star'"):
        check_kinds((mark,), "card")
