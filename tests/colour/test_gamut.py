"""Clipping into a space."""

from __future__ import annotations

import numpy as np

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.gamut import clip_to_gamut, out_of_gamut
from colormatch.colour.spaces import lab_from_xyz, rgb_space
from colormatch.model import FloatArray


def _oprgb_cube() -> tuple[FloatArray, FloatArray]:
    """Give the cube of opRGB at 17 steps: XYZ, and linear light in sRGB."""
    steps = np.linspace(0, 1, 17)
    cube = np.stack(np.meshgrid(steps, steps, steps), -1).reshape(-1, 3)
    xyz = rgb_space("oprgb").decode(cube) @ rgb_space("oprgb").xyz_from_rgb.T
    return xyz, xyz @ rgb_space("srgb").rgb_from_xyz.T


def test_inside_stays_exactly() -> None:
    rgb = np.random.default_rng(1).uniform(0, 1, (50, 60, 3)).astype(np.float32)
    clipped = clip_to_gamut(rgb)
    assert clipped.dtype == np.float32
    np.testing.assert_array_equal(clipped, rgb)
    assert not out_of_gamut(rgb).any()


def test_outside_comes_inside_and_only_there_changes() -> None:
    _, rgb = _oprgb_cube()
    clipped = clip_to_gamut(rgb)
    assert clipped.min() >= 0
    assert clipped.max() <= 1
    changed = np.abs(clipped - rgb).max(axis=-1) > 0.5 / 65535
    np.testing.assert_array_equal(changed, out_of_gamut(rgb))
    assert 0.4 < changed.mean() < 0.6


def test_may_write_into_its_input() -> None:
    rgb = np.array([[-0.5, 0.5, 1.5]], np.float32)
    assert clip_to_gamut(rgb, out=rgb) is rgb
    np.testing.assert_array_equal(rgb, [[0, 0.5, 1]])


def test_tolerance_and_nan() -> None:
    edge = np.array([[1 + 4 / 65535, 0, 0], [-4 / 65535, 0, 0], [np.nan, 0, 0]])
    np.testing.assert_array_equal(out_of_gamut(edge), [True, True, True])
    np.testing.assert_array_equal(out_of_gamut(edge, 5 / 65535), [False, False, True])


def test_rule_beats_the_grey_of_equal_luminance() -> None:
    # The rejected rule, written out: along the line to the grey of equal luminance.
    srgb = rgb_space("srgb")
    xyz, rgb = _oprgb_cube()
    outside = out_of_gamut(rgb)
    xyz, rgb = xyz[outside], rgb[outside]
    grey = np.clip(rgb @ srgb.xyz_from_rgb[1], 0, 1)[:, None]
    away = rgb - grey
    reach = np.where(away > 0, 1 - grey, grey) / np.maximum(np.abs(away), 1e-12)
    to_grey = grey + away * np.minimum(reach.min(axis=1, keepdims=True), 1)

    def error(clipped: FloatArray) -> FloatArray:
        return delta_e_2000(lab_from_xyz(xyz), lab_from_xyz(clipped @ srgb.xyz_from_rgb.T))

    ours, theirs = error(clip_to_gamut(rgb)), error(to_grey)
    assert ours.mean() < theirs.mean()
    assert ours.max() < theirs.max()
    np.testing.assert_allclose([ours.mean(), ours.max()], [4.41, 10.73], atol=0.03)
