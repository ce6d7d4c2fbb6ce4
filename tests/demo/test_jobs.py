"""Sound jobs: repeatable, whole, within what the trade calls ordinary."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import numpy as np
import pytest
import tifffile
from PIL import Image

from colormatch.files.images import open_scan
from colormatch.files.references import read_reference
from demo.jobs import LEAST_OVERLAP, PAINTINGS, Saved, render, save, sound_job
from demo.presets import GLASS


@pytest.mark.parametrize("painting", PAINTINGS)
def test_a_job_repeats_from_its_seed(painting: str) -> None:
    first = sound_job(painting, seed=5, tiles=3, ppi=100)
    assert first == sound_job(painting, seed=5, tiles=3, ppi=100)
    assert first != sound_job(painting, seed=6, tiles=3, ppi=100)


@pytest.mark.parametrize("seed", range(20))
def test_neighbours_share_what_the_trade_asks_for(seed: int) -> None:
    first, second = (
        one.tile.placing for one in sound_job("coast", seed=seed, tiles=2, ppi=100).scans
    )
    shared = first.centre[0] + GLASS[0] - first.at[0] - second.centre[0]
    assert LEAST_OVERLAP <= shared <= 50


@pytest.mark.parametrize("seed", range(20))
def test_the_light_repeats_within_a_percent_and_is_even_within_three(seed: int) -> None:
    job = sound_job("abstract", seed=seed, tiles=3, ppi=100)
    light = np.array([one.tile.exposure * np.array(one.tile.gains) for one in job.scans])
    assert np.ptp(light / light.mean(axis=0)) < 0.013
    # FADGI 2016, three stars.
    assert all(one.scanner.vignette < 0.03 for one in job.scans)
    assert len({one.scanner for one in job.scans}) == 1


def test_files_are_scans_with_their_resolution_and_a_dated_reference(tmp_path: Path) -> None:
    job = sound_job("abstract", seed=1, tiles=1, ppi=60)
    files = render(job, tmp_path)
    assert sorted(tmp_path.iterdir()) == sorted([*files.scans, tmp_path / "strip.txt"])
    scan = open_scan(files.scans[0])
    assert (scan.width, scan.height) == (round(190 / 25.4 * 60), round(215 / 25.4 * 60))
    assert scan.ppi == pytest.approx((60, 60))
    scan.close()
    assert files.reference is not None
    reference = read_reference(files.reference)
    assert reference.kind == "measured"
    assert 0 < (date.today() - date.fromisoformat(reference.facts["date"])).days < 365


@pytest.mark.parametrize(("form", "ending"), [("tiff", "tif"), ("png", "png"), ("jpeg", "jpg")])
def test_every_form_states_the_resolution_asked_for(form: str, ending: str, tmp_path: Path) -> None:
    path = tmp_path / f"scan.{ending}"
    pixels = np.random.default_rng(1).integers(0, 255, (40, 60, 3)).astype(np.uint8)
    save(path, pixels, Saved(format=form, stated=(1.5, 1.0)), 200)
    # Read back by Pillow; PNG and JPEG keep whole units.
    with Image.open(path) as picture:
        assert picture.info["dpi"] == pytest.approx((300, 200), abs=0.02)
        assert picture.size == (60, 40)


def test_a_tiff_keeps_every_code(tmp_path: Path) -> None:
    pixels = np.random.default_rng(1).integers(0, 65535, (40, 60, 3)).astype(np.uint16)
    save(tmp_path / "scan.tif", pixels, Saved(), 200)
    np.testing.assert_array_equal(tifffile.imread(tmp_path / "scan.tif"), pixels)
