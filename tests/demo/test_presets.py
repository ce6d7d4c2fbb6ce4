"""Ready-made jobs: everything lies where a scan can see it."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from colormatch.files.layouts import shipped_layouts
from colormatch.model import FloatArray
from demo.geometry import SheetMap
from demo.presets import Preset, presets

JOBS = presets()


def corners(width: float, height: float) -> FloatArray:
    return np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]])


def on_glass(job: Preset, sheet: SheetMap, points: FloatArray) -> FloatArray:
    glass = sheet.placing.glass_from_sheet(points)
    width, height = job.scanner.glass
    inside = (glass > 0) & (glass < (width, height))
    return np.asarray(inside.all(axis=-1))


@pytest.mark.parametrize("name", JOBS)
def test_every_strip_lies_whole_on_the_glass_and_off_the_painting(name: str) -> None:
    job, layouts = JOBS[name], shipped_layouts()
    for tile in job.tiles:
        assert tile.strips
        for place in tile.strips:
            layout = layouts[place.layout]
            edge = np.linspace(0, 1, 40)[:, None]
            rim = corners(layout.width, layout.height)
            ends = [*pairwise([*rim, rim[0]])]
            outline = np.concatenate([a + edge * (b - a) for a, b in ends])
            glass = place.placing.glass_from_sheet(outline)
            assert (glass > 0).all()
            assert (glass < job.scanner.glass).all()
            on_sheet = tile.placing.sheet_from_glass(glass)
            covered = ((on_sheet > 0) & (on_sheet < job.size)).all(axis=-1)
            assert not covered.any()


@pytest.mark.parametrize("name", JOBS)
def test_tiles_cover_the_painting_and_overlap(name: str) -> None:
    job = JOBS[name]
    x, y = np.meshgrid(np.arange(0, job.size[0] + 1, 2.0), np.arange(0, job.size[1] + 1, 2.0))
    points = np.stack([x, y], axis=-1)
    seen = []
    for tile in job.tiles:
        sheet = SheetMap(carriage=job.scanner.carriage(0), placing=tile.placing)
        seen.append(on_glass(job, sheet, points))
    times = np.sum(seen, axis=0)
    assert (times > 0).all()
    assert (times > 1).mean() > 0.2
    assert (times == 1).mean() > 0.1


def test_the_plain_job_has_no_vignetting() -> None:
    plain = JOBS["two-tiles"].scanner
    assert plain.vignette == plain.tilt == plain.lateral_slope == 0


def test_lamps_and_counts_are_all_there() -> None:
    assert {job.scanner.lamp for job in JOBS.values()} == {"white-led", "fluorescent", "three-led"}
    assert {job.scanner.bits for job in JOBS.values()} == {8, 16}
    assert {len(job.tiles) for job in JOBS.values()} == {2, 4}
