"""Two tiles of the invented painting, each with a plain chart beside it, as files."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import tifffile

from colormatch.files.references import reference_text
from demo.geometry import Placing
from demo.presets import presets
from demo.scanner import ScanResult, scan_tile
from demo.scene import make_scene
from demo.settings import StripPlace
from demo.strip import shipped_strip
from tests.finding import charts

LAYOUT = """name = "plain"
width = 101.0
height = 37.0

[[grid]]
rows = 4
columns = 12
x = 3.0
y = 3.0
pitch = 8.0
width = 7.0
height = 7.0
"""


@dataclass(frozen=True, kw_only=True, eq=False)
class ChartScans:
    """What was written, and the truth about it."""

    scans: tuple[Path, ...]
    layout: Path
    reference: Path
    results: tuple[ScanResult, ...]


def chart_scans(
    folder: Path,
    *,
    ppi: float,
    lamp: str = "white-led",
    seed: int = 0,
    strip_too: bool = False,
) -> ChartScans:
    """Scan two tiles, the chart upside down in the second; one of our strips beside it."""
    rng = np.random.default_rng(seed)
    chart = charts.printed_chart(charts.chart_layout(ground="white"), rng, twins=4)
    sheet = charts.printed_sheet(chart)
    sheets = {"plain": sheet}
    if strip_too:
        sheets["strip-short"] = shipped_strip("strip-short", ppi=300.0)
    base = presets()["two-tiles"]
    scene = make_scene(base.kind, seed=seed, size=(240.0, 150.0), ppi=1.5 * ppi)
    scanner = replace(base.scanner, ppi=ppi, lamp=lamp)
    results, paths = [], []
    for number, tile in enumerate(base.tiles):
        placing = replace(tile.placing, centre=(tile.placing.centre[0], 75.0))
        placing = replace(placing, at=(placing.at[0], 79.0))
        place = Placing(
            centre=(50.5, 18.5), at=(95.0, 186.0), turns=2 * number, slant=1.2 - 2 * number
        )
        beside = Placing(centre=(46.5, 11.0), at=(160.0, 100.0), turns=1, slant=0.4)
        strips = [StripPlace(layout="plain", placing=place)]
        strips += [StripPlace(layout="strip-short", placing=beside)] if strip_too else []
        settings = replace(tile, placing=placing, strips=tuple(strips))
        results.append(scan_tile(scene, scanner, settings, strips=sheets, rng=rng))
        paths.append(folder / f"tile-{number + 1}.tif")
        tifffile.imwrite(
            paths[-1],
            results[-1].pixels,
            photometric="rgb",
            resolution=(ppi, ppi),
            resolutionunit="INCH",
            metadata=None,
        )
    layout, reference = folder / "chart.toml", folder / "chart.txt"
    layout.write_text(LAYOUT, encoding="utf-8")
    reference.write_text(reference_text(chart.reference, "plain"), encoding="utf-8")
    return ChartScans(
        scans=tuple(paths), layout=layout, reference=reference, results=tuple(results)
    )
