"""A plan carried out: the invented painting laid as planned, then the plan's own commands."""

from __future__ import annotations

import json
import shlex
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import tifffile

from colormatch.cli.main import run
from colormatch.files.references import reference_text
from colormatch.job.plan import plan
from colormatch.plans import Frame, PlanReport, Side, TilePlan, Wish
from demo.geometry import Placing
from demo.scanner import scan_tile
from demo.scene import make_scene
from demo.settings import ScannerModel, StripPlace, TileSettings
from demo.strip import shipped_strip, true_reference

PPI = 100.0


def laid(tile: TilePlan, report: PlanReport) -> TileSettings:
    """Lay painting and strip where the plan says, as a person does: not quite."""
    grid = report.grid
    x, y, wide, tall = tile.painting_on_glass
    width, height = grid.wish.painting
    painting = Placing(
        centre=(width / 2, height / 2),
        at=(x + wide / 2 + 0.6, y + tall / 2 - 0.4),
        turns=int(grid.turned),
        slant=0.15,
    )
    if tile.strip is None:
        return TileSettings(placing=painting)
    left, top, w, h = tile.strip.box
    upright = tile.strip.side in (Side.LEFT, Side.RIGHT)
    strip = Placing(
        centre=(grid.strip_size[0] / 2, grid.strip_size[1] / 2),
        at=(left + w / 2, top + h / 2),
        turns=int(upright),
        slant=-0.2,
    )
    return TileSettings(placing=painting, strips=(StripPlace(layout=grid.strip, placing=strip),))


def scanned(report: PlanReport, folder: Path) -> float:
    """Scan every tile under the plan's file names, measure the strip; gives the paper's border."""
    grid = report.grid
    scene = make_scene("coast", size=grid.wish.painting, ppi=1.5 * PPI)
    strips = {grid.strip: shipped_strip(grid.strip, ppi=300.0)}
    scanner = ScannerModel(glass=grid.wish.glass, ppi=PPI)
    rng = np.random.default_rng(5)
    for number, tile in enumerate(grid.tiles):
        settings = replace(laid(tile, report), exposure=0.86 - 0.01 * number)
        pixels = scan_tile(scene, scanner, settings, strips=strips, rng=rng).pixels
        tifffile.imwrite(
            folder / tile.name, pixels, photometric="rgb", resolution=(PPI, PPI),
            resolutionunit="INCH",
        )  # fmt: skip
    reference = true_reference(strips[grid.strip], noise=0.15, rng=rng)
    (folder / "strip.txt").write_text(reference_text(reference, grid.strip), encoding="utf-8")
    return scene.border


@pytest.mark.parametrize(
    ("painting", "glass", "cells", "turned"),
    [
        # Two by two, strips above and below.
        ((280.0, 270.0), (190.0, 215.0), (2, 2), False),
        # A tall painting laid across, strips below.
        ((158.0, 320.0), (190.0, 215.0), (2, 1), True),
    ],
)
def test_a_painting_scanned_as_planned_is_joined_by_the_plans_own_command(
    painting: tuple[float, float],
    glass: tuple[float, float],
    cells: tuple[int, int],
    turned: bool,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    wish = Wish(painting=painting, glass=glass, ppi=PPI, frame=Frame.PAPER)
    report = plan(wish)
    assert (report.grid.columns, report.grid.rows, report.grid.turned) == (*cells, turned)
    border = scanned(report, tmp_path)
    monkeypatch.chdir(tmp_path)
    # The blank sheet is optional, and not drawn here.
    words = shlex.split(report.command.replace(" --blank blank.tif", ""))
    assert run([*words[1:], "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert all(len(tile["strips"]) == 1 for tile in data["tiles"])
    # White paper round the painting, on a white lid, is trimmed away, and the picture is
    # cut square inside a painting that lay askew: 0.7 mm over 280 mm, seen at 4 pixels per mm.
    for side, size in zip(report.grid.lying, data["merged"]["size"], strict=True):
        assert 0.0 <= side - 2 * border - size <= 3.0
    # A gap between tiles would be a stripe right across, 1 mm of it more than this; slivers
    # at the rim of a picture that lay askew are less.
    width, height = report.grid.lying
    assert data["merged"]["uncovered"] < 1.0 / max(width, height)
    assert (tmp_path / "painting.tif").exists()
