"""Each fault against its stated size."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from colormatch.colour.transfer import decode_srgb
from demo import faults
from demo.geometry import Carriage, Placing, SheetMap
from demo.settings import Crease, Lifted, ScannerModel, TileSettings

PLAIN = ScannerModel(
    glass=(60.0, 50.0), ppi=100, flare=0, cavity=0, read_noise=0, shot_noise=0, mottle=0
)
SIZE = (50.0, 40.0)


def laid(turns: int = 0) -> SheetMap:
    width, height = (SIZE[0], SIZE[1]) if turns % 2 == 0 else (SIZE[1], SIZE[0])
    at = (5 + width / 2, 5 + height / 2)
    placing = Placing(centre=(SIZE[0] / 2, SIZE[1] / 2), at=at, turns=turns)
    return SheetMap(carriage=PLAIN.carriage(0.0), placing=placing)


def even(value: float = 0.5) -> faults.Picture:
    return np.full((*PLAIN.shape, 3), value, np.float32)


def test_vignetting_darkens_both_ends_by_its_share() -> None:
    along, across = faults.lighting(replace(PLAIN, vignette=0.08))
    assert across[0, 0, 0] == pytest.approx(0.92)
    assert across[0, -1, 0] == pytest.approx(0.92)
    assert across.max() == pytest.approx(1, abs=1e-4)
    assert np.ptp(along) == 0


def test_slope_and_tilt_have_their_size() -> None:
    along, across = faults.lighting(replace(PLAIN, tilt=0.03, lateral_slope=0.04))
    assert along[-1, 0, 0] - along[0, 0, 0] == pytest.approx(0.03, abs=1e-6)
    assert across[0, 0, 0] - across[0, -1, 0] == pytest.approx(0.04, abs=1e-6)


def test_stray_kernel_is_a_mean() -> None:
    assert faults.stray_kernel(PLAIN).sum() == pytest.approx(1)


def test_stray_light_raises_a_dark_disc_by_its_share_of_the_surroundings() -> None:
    # Checked against a direct sum over the surroundings at one place.
    scanner = replace(PLAIN, flare=0.03, bezel=0.1)
    rows, columns = np.indices(PLAIN.shape)
    middle = (98, 118)
    dark = np.hypot(rows - middle[0], columns - middle[1]) < 40
    light = np.where(dark[..., None], 0.01, 0.8).astype(np.float32).repeat(3, axis=2)
    got = faults.scattered(light.copy(), scanner)[middle][0]
    kernel = faults.stray_kernel(scanner)
    half, per_mm = len(kernel) // 2, 100 / 25.4
    steps = np.arange(-half, half + 1) * faults.STRAY_PITCH * per_mm
    row = np.round(middle[0] + steps).astype(int)[:, None]
    column = np.round(middle[1] + steps).astype(int)[None, :]
    inside = (row >= 0) & (row < 197) & (column >= 0) & (column < 236)
    reached = light[row.clip(0, 196), column.clip(0, 235), 0]
    mean = (kernel * np.where(inside, reached, 0.1)).sum()
    assert got == pytest.approx(0.97 * 0.01 + 0.03 * mean, rel=0.02)


def test_stray_light_leaves_an_even_field_as_it_is() -> None:
    scanner = replace(PLAIN, flare=0.04, bezel=0.5)
    np.testing.assert_allclose(faults.scattered(even(0.5), scanner), 0.5, atol=1e-5)


def test_cavity_multiplies_by_the_series_of_reflections() -> None:
    # Sum of the geometric series: 1 / (1 - eta R), with R the even field.
    scanner = replace(PLAIN, cavity=0.1, bezel=0.5)
    np.testing.assert_allclose(faults.scattered(even(0.5), scanner), 0.5 / 0.95, atol=1e-5)


def test_crease_has_its_depth_and_colour_and_swaps_sides_when_turned_round() -> None:
    crease = Crease(side="top", distance=15, depth=0.3, bright=0.1)
    upright = faults.crease_shadow(crease, laid(), SIZE, PLAIN.shape)
    turned = faults.crease_shadow(crease, laid(2), SIZE, PLAIN.shape)
    # The flanks are a tenth of a millimetre wide, so the full depth is not quite reached.
    assert 0.7 <= upright[..., 1].min() < 0.7 + 0.15 * 0.3
    assert 1.1 - 0.2 * 0.1 < upright.max() <= 1.1
    dark = np.unravel_index(upright[..., 1].argmin(), PLAIN.shape)
    assert upright[dark][2] < upright[dark][1] < upright[dark][0]

    def dark_side(factor: faults.Picture, where: SheetMap) -> float:
        """Mean distance of dark from bright places, mm inwards on the sheet."""
        _, inwards = where.grid(range(PLAIN.shape[0]), PLAIN.shape[1])
        dark, bright = np.clip(1 - factor[..., 1], 0, None), np.clip(factor[..., 1] - 1, 0, None)
        return float((inwards * dark).sum() / dark.sum() - (inwards * bright).sum() / bright.sum())

    assert dark_side(upright, laid()) * dark_side(turned, laid(2)) < 0


def test_crease_stays_on_the_painting() -> None:
    factor = faults.crease_shadow(Crease(side="left"), laid(), SIZE, PLAIN.shape)
    x, y = laid().grid(range(PLAIN.shape[0]), PLAIN.shape[1])
    off = (x < 0) | (y < 0) | (x > SIZE[0]) | (y > SIZE[1])
    assert (factor[off] == 1).all()


def test_lifted_edge_is_darker_and_softer_than_the_rest() -> None:
    rows, columns = np.indices(PLAIN.shape)
    stripes = (0.5 + 0.3 * np.sin(rows * 1.2))[..., None].repeat(3, axis=2).astype(np.float32)
    lifted = Lifted(side="left", width=20, blur=0.3, dark=0.15)
    got = faults.lift(stripes.copy(), lifted, laid(), SIZE, PLAIN.ppi)
    # A sine of w rad/px blurred with sigma s keeps exp(-(s w)^2 / 2) of its swing.
    edge, column = got[30:170, 21, 0], np.abs(columns[0] - 21).argmin()
    assert column == 21
    assert edge.mean() == pytest.approx(0.5 * 0.85, rel=0.02)
    kept = np.exp(-0.5 * (0.3 * 100 / 25.4 * 1.2) ** 2)
    assert edge.std() / edge.mean() == pytest.approx(kept * 0.3 / 0.5 / np.sqrt(2), rel=0.1)
    np.testing.assert_array_equal(got[:, 120:], stripes[:, 120:])


def test_noise_has_its_deviation() -> None:
    scanner = replace(PLAIN, read_noise=0.002, shot_noise=0.01)
    for level in (0.0, 0.25, 1.0):
        got = faults.noisy(even(level), scanner, np.random.default_rng(1))
        expected = np.hypot(0.002, 0.01 * np.sqrt(level))
        assert got.std() == pytest.approx(expected, rel=0.02)
        assert got.mean() == pytest.approx(level, abs=1e-4)


def test_dust_covers_little_and_streaks_whole_columns() -> None:
    place = Placing(centre=(0, 0), at=(0, 0))
    dusty = faults.soiled(
        even(), TileSettings(placing=place, dust=20, hairs=2), 100, np.random.default_rng(2)
    )
    touched = (dusty != 0.5).any(axis=-1).mean()
    assert 0.0002 < touched < 0.05
    streaked = faults.soiled(
        even(), TileSettings(placing=place, streaks=2), 100, np.random.default_rng(2)
    )
    columns = (streaked != 0.5).any(axis=(0, 2))
    assert 1 <= columns.sum() <= 6
    assert np.ptp(streaked, axis=0).max() == 0
    assert 0.01 <= np.abs(streaked / 0.5 - 1).max() <= 0.0401


def test_glare_is_brighter_than_white_and_on_the_paint_only() -> None:
    where = np.zeros(PLAIN.shape, bool)
    where[80:120, 80:120] = True
    got = faults.glare(even(), 12, where, 100, np.random.default_rng(1))
    assert got.max() > 0.7
    assert (got[:60] == 0.5).all()


def test_tone_curves() -> None:
    grid = np.linspace(0, 1, 257)
    for tone in ("linear", "power", "srgb", "s-curve"):
        codes = faults.tone_curve(grid, tone, 2.2)
        assert codes[0] == 0
        assert codes[-1] == pytest.approx(1)
        assert (np.diff(codes) > 0).all()
    # IEC 61966-2-1 as decoded by the package.
    np.testing.assert_allclose(decode_srgb(faults.tone_curve(grid, "srgb", 2.2)), grid, atol=1e-12)
    np.testing.assert_allclose(faults.tone_curve(grid, "power", 1.8) ** 1.8, grid, atol=1e-6)
    with pytest.raises(ValueError, match="tone must be"):
        faults.tone_curve(grid, "film", 1)


@pytest.mark.parametrize(("bits", "top"), [(8, 255), (16, 65535)])
def test_codes_round_and_clip(bits: int, top: int) -> None:
    scanner = replace(PLAIN, bits=bits, tone="linear")
    light = np.array([[[-0.1, 0.5, 1.2]]], np.float32)
    assert faults.quantised(light, scanner).tolist() == [[[0, round(top * 0.5 + 1e-6), top]]]


def test_carriage_is_the_scanners() -> None:
    assert isinstance(PLAIN.carriage(0.5), Carriage)
    assert PLAIN.carriage(0.5).phase == 0.5


def test_bands_have_their_amplitude_and_period() -> None:
    along, _ = faults.lighting(replace(PLAIN, banding=0.02, banding_period=10.0))
    waves = along[:, 0, 0] - 1
    assert np.abs(waves).max() == pytest.approx(0.02, rel=0.01)
    rows = PLAIN.shape[0]
    strongest = np.abs(np.fft.rfft(waves))[1:].argmax() + 1
    assert rows * 25.4 / PLAIN.ppi / strongest == pytest.approx(10.0, rel=0.03)


def test_black_is_cut_off_and_the_top_stays() -> None:
    scanner = replace(PLAIN, tone="linear", black=0.02)
    light = np.array([[[0.01, 0.02, 1.0]], [[0.51, 0.51, 0.51]]], np.float32)
    got = faults.encoded(light, scanner)
    np.testing.assert_allclose(got[0, 0], [0, 0, 1], atol=1e-6)
    np.testing.assert_allclose(got[1, 0], 0.5, atol=1e-6)


def test_sharpening_overshoots_an_edge_by_half_its_amount_and_crosses_blocks_whole() -> None:
    # Beside a sharp edge an unsharp mask adds up to half the step times its amount.
    scanner = replace(PLAIN, tone="linear", sharpen=0.4, sharpen_radius=2.0)
    light = np.full((600, 80, 3), 0.3, np.float32)
    light[:, 40:] = 0.6
    codes = faults.quantised(light, scanner) / 65535
    # The first pixel's middle lies half a pixel, a quarter of a deviation, from the edge.
    assert codes[:, 40].mean() == pytest.approx(0.6 + 0.4 * 0.3 * 0.40, abs=0.003)
    assert np.ptp(codes, axis=0).max() < 2 / 65535


def test_a_sheet_over_the_rim_is_lifted_most_at_the_rim() -> None:
    lifted = Lifted(side="left", width=20, blur=0.0001, dark=0.2, start=10)
    got = faults.lift(even(), lifted, laid(), SIZE, PLAIN.ppi)[100, :, 1]
    x, _ = laid().grid(range(100, 101), PLAIN.shape[1])
    assert got[np.abs(x[0] - 10).argmin()] == pytest.approx(0.4, abs=0.005)
    assert got[np.abs(x[0] - 20).argmin()] == pytest.approx(0.5 * (1 - 0.2 * 0.5**1.5), abs=0.004)
    assert (got[(x[0] > 31) & (x[0] < 49)] == 0.5).all()
