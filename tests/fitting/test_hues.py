"""The table that carries a root-polynomial to every pixel gives what the formula gives."""

from __future__ import annotations

import numpy as np

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.fitting import hues
from colormatch.fitting.applying import Correction
from colormatch.fitting.maps import plain_map, shares
from tests.fitting.paint_rows import MATRIX, WHITE
from tests.fitting.test_maps import curved

LIGHT = (np.random.default_rng(2).random((64, 300, 3)) ** 2).astype(np.float32)


def corrected(light: np.ndarray) -> np.ndarray:
    map_ = curved()
    plain = Correction(
        decode=np.zeros((256, 3), np.float32),
        scattered=np.zeros((2, 2, 3), np.float32),
        lamp=np.ones((2, 2), np.float32),
        step=1.0,
        matrix=map_.matrix.astype(np.float32),
        hues=hues.hue_table(map_, np.eye(3)),
    )
    return plain.coloured(light)


def test_the_table_agrees_with_the_formula_to_far_below_what_is_visible() -> None:
    # Half of all observers see 0.8 and more (Paravina et al. 2015, abstract).
    wanted = curved().xyz(LIGHT.astype(float))
    seen = corrected(LIGHT)
    part = shares(LIGHT.astype(float), WHITE)[1]
    paints = np.minimum(part.min(axis=-1), 1 - part.sum(axis=-1)) > 0.02
    lab = [lab_from_xyz(np.maximum(v, 1e-6)) for v in (seen.astype(float), wanted)]
    apart = delta_e_2000(*lab)
    assert paints.mean() > 0.5
    assert np.percentile(apart[paints], 99) < 0.05
    assert apart[paints].max() < 0.2
    # Purer than any paint, where roots are steep, a table cannot follow as closely.
    assert np.percentile(apart, 99.9) < 0.3


def test_blocks_and_single_columns_give_what_the_whole_gives() -> None:
    whole = corrected(LIGHT)
    parts = [corrected(np.ascontiguousarray(LIGHT[:, k : k + 1])) for k in range(3)]
    np.testing.assert_allclose(np.concatenate(parts, axis=1), whole[:, :3], atol=1e-6)
    np.testing.assert_allclose(corrected(LIGHT[:1]), whole[:1], atol=1e-6)


def test_rows_wider_than_the_library_takes_are_cut() -> None:
    whole = corrected(LIGHT)
    wide = np.tile(LIGHT[:1], (1, 120, 1))
    assert wide.shape[1] > 32767
    np.testing.assert_allclose(corrected(wide)[:, :300], whole[:1], atol=1e-6)


def test_light_that_is_none_or_less_stays_finite() -> None:
    light = np.zeros((4, 5, 3), np.float32)
    light[1] = -0.01
    light[2, :, 0] = 1e-8
    assert np.isfinite(corrected(light)).all()


def test_a_plain_map_needs_no_table() -> None:
    assert hues.hue_table(plain_map(MATRIX, WHITE), np.eye(3)) is None
