"""The strip as a picture."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.drawing import draw_raster
from colormatch.errors import LayoutError
from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.model import Layout, Mark, Reference
from colormatch.symbols.micro import text_of


@pytest.fixture(scope="module", params=["strip-long", "strip-short"])
def strip(request: pytest.FixtureRequest) -> tuple[Layout, Reference]:
    return shipped_layouts()[request.param], shipped_reference(request.param)


def test_is_exactly_as_large_as_the_strip(strip: tuple[Layout, Reference]) -> None:
    layout, _ = strip
    for ppi in (300.0, 600.0):
        height, width, channels = draw_raster(*strip, ppi).shape
        assert (width, height) == (
            round(layout.width / 25.4 * ppi),
            round(layout.height / 25.4 * ppi),
        )
        assert channels == 3


def test_patches_look_as_the_reference_says(strip: tuple[Layout, Reference]) -> None:
    layout, reference = strip
    picture = draw_raster(layout, reference)
    space = rgb_space("srgb")
    for patch, xyz in zip(layout.patches, reference.xyz, strict=True):
        per_mm = 600 / 25.4
        rows = slice(int(patch.y * per_mm) + 2, int((patch.y + patch.height) * per_mm) - 2)
        columns = slice(int(patch.x * per_mm) + 2, int((patch.x + patch.width) * per_mm) - 2)
        inner = picture[rows, columns].reshape(-1, 3)
        assert np.ptp(inner, axis=0).max() == 0
        drawn = lab_from_xyz(space.decode(inner[0] / 255.0) @ space.xyz_from_rgb.T)
        np.testing.assert_allclose(drawn, lab_from_xyz(xyz), atol=1e-3)


@pytest.mark.parametrize("ppi", [150.0, 600.0])
def test_marks_are_centred_where_the_layout_says(
    ppi: float, strip: tuple[Layout, Reference]
) -> None:
    layout, reference = strip
    space = rgb_space("srgb")
    light = space.decode(draw_raster(layout, reference, ppi)[..., 1] / 255.0)
    per_mm = ppi / 25.4
    for mark in layout.marks:
        # The darkness inside the paper's edge of the outer ring, as a first moment;
        # what lies outside is uniform ground or uniform ink.
        x, y = np.meshgrid(*(np.arange(n) for n in light.shape[::-1]))
        x_mm, y_mm = (x + 0.5) / per_mm - mark.x, (y + 0.5) / per_mm - mark.y
        inner = np.hypot(x_mm, y_mm) < 0.87 * mark.diameter / 2
        flat = light[inner][np.hypot(x_mm, y_mm)[inner].argmax()]
        weight = light[inner] - flat
        centre = np.array([x_mm[inner] @ weight, y_mm[inner] @ weight]) / weight.sum()
        assert np.abs(centre).max() < 0.002


def test_edges_are_mixed_by_area() -> None:
    grey = shipped_layouts()["strip-long"]
    layout = dataclasses.replace(
        grey,
        width=10.0,
        height=10.0,
        marks=(Mark(id="M", kind="hoop", x=5.0, y=5.0, diameter=8.0),),
        patches=(),
        fields=(),
    )
    values = Reference(ids=(), xyz=np.zeros((0, 3)), kind="nominal")
    light = rgb_space("srgb").decode(draw_raster(layout, values, 127.0)[..., 0] / 255.0)
    share = np.array([1.0, -(0.74**2), 0.46**2, -(0.17**2)])
    share[0] = 1.0
    ink = np.pi * 16 * share.sum()
    # 8-bit codes round the light of edge pixels by up to half a code.
    assert (1 - light).sum() / 25 == pytest.approx(ink, rel=2e-3)


def test_refuses_what_it_cannot_draw(strip: tuple[Layout, Reference]) -> None:
    layout, reference = strip
    short = dataclasses.replace(reference, ids=reference.ids[1:], xyz=reference.xyz[1:])
    with pytest.raises(LayoutError, match=f"no value for {layout.patches[0].id}:"):
        draw_raster(layout, short)
    odd = dataclasses.replace(layout.marks[0], kind="star")
    with pytest.raises(LayoutError, match="unknown kind 'star'"):
        draw_raster(dataclasses.replace(layout, marks=(odd,)), reference)


def test_the_symbol_is_drawn_whole_and_changes_no_patch_or_mark(
    strip: tuple[Layout, Reference],
) -> None:
    layout, reference = strip
    plain = draw_raster(layout, reference, 600)
    named = draw_raster(layout, reference, 600, serial="7F3-K2A")
    assert layout.symbol is not None
    symbol, per_mm = layout.symbol, 600 / 25.4
    module = symbol.side / 15
    rows, columns = np.nonzero((plain != named).any(axis=2))
    for first, last, place in (
        (rows.min(), rows.max(), symbol.y),
        (columns.min(), columns.max(), symbol.x),
    ):
        assert first + 0.5 > (place - 2 * module) * per_mm - 1
        assert last + 0.5 < (place + 17 * module) * per_mm + 1
    for mark in layout.marks:
        away = np.hypot((columns + 0.5) / per_mm - mark.x, (rows + 0.5) / per_mm - mark.y)
        assert away.min() > mark.diameter / 2
    middles = (np.arange(15) + 0.5) * module
    y, x = np.meshgrid(symbol.y + middles, symbol.x + middles, indexing="ij")
    dark = named[(y * per_mm).astype(int), (x * per_mm).astype(int), 1] < 128
    assert text_of(dark) == (f"{symbol.design} 7F3-K2A", 0)
    # Where dark modules touch, no pale seam is left between them.
    inner = named[int(symbol.y * per_mm) + 2 : int((symbol.y + module * 7) * per_mm) - 2]
    left = inner[:, int(symbol.x * per_mm) + 2 : int((symbol.x + module) * per_mm) - 2]
    assert left.max() == 0


def test_a_layout_without_a_symbol_gets_none(strip: tuple[Layout, Reference]) -> None:
    layout, reference = strip
    bare = dataclasses.replace(layout, symbol=None)
    plain, named = (draw_raster(bare, reference, 150, serial=s) for s in ("", "7F3-K2A"))
    assert (plain == named).all()
