"""Values carried over against the true ones: ``python -m tests.benchmarks.bench_transfer [PPI]``.

A long strip that was measured (noise 0.15 in each of L*, a*, b*) and a second one lie
beside each other in three scans of the demo's spectral scanner, moved in between; the
values `colormatch transfer` writes for the second are compared with its spectra. The
second strip is printed by the same kind of ink in other amounts (aim: mean ΔE2000 at
most 1.0), or by other inks, for which nothing is promised.
"""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.spaces import lab_from_xyz
from colormatch.files.references import read_reference, reference_text
from colormatch.job.options import TransferOptions
from colormatch.job.transfer import transfer
from colormatch.model import FloatArray
from demo.geometry import Placing
from demo.inks import HOME, Printer
from demo.scanner import scan_tile
from demo.scene import Scene, make_scene
from demo.settings import ScannerModel, StripPlace, TileSettings
from demo.strip import PrintedStrip, shipped_strip, true_reference

AIM = 1.0

KNOWN, OTHER = "KNW-22A", "TRY-33B"
"""Serials of the two sheets."""

PLACES = (((95.0, 15.0), 0), ((95.0, 43.0), 0), ((94.0, 15.0), 2))
"""Middle of the known sheet in each scan, mm, and its quarter turns; the other strip lies
in the place left."""

SHEETS: dict[str, tuple[Printer, float]] = {
    "same printer, months later": (HOME, -1.0),
    "other printer, same inks": (
        Printer(strength=(1.12, 0.92, 1.06, 0.97), grey_component=0.55),
        2.0,
    ),
    "other inks": (Printer(strength=(1.1, 0.95, 1.0, 1.05), shift=(18.0, -12.0, 10.0)), 1.0),
    "other inks, no black in greys": (
        Printer(shift=(18.0, -12.0, 10.0), grey_component=0.0),
        1.0,
    ),
}
"""Printer and drift of the second strip."""

SCANNERS = (("white-led", "broad"), ("white-led", "leaning"), ("fluorescent", "steep"))


def scan_pair(
    folder: Path,
    known: PrintedStrip,
    other: PrintedStrip,
    scanner: ScannerModel,
    *,
    places: Sequence[tuple[tuple[float, float], int]] = PLACES,
) -> list[Path]:
    """Scan the two strips, once for each place; give the files."""
    import tifffile

    scene = _elsewhere()
    paths = []
    for number, (at, turns) in enumerate(places):
        rest = (95.0, scanner.glass[1] - at[1])
        strips = tuple(
            StripPlace(
                layout=name,
                placing=Placing(
                    centre=(s.layout.width / 2, s.layout.height / 2),
                    at=where,
                    turns=turns,
                    slant=0.3,
                ),
            )
            for name, s, where in (("known", known, at), ("other", other, rest))
        )
        tile = TileSettings(placing=Placing(centre=(0, 0), at=(900.0, 900.0)), strips=strips)
        scan = scan_tile(
            scene,
            scanner,
            tile,
            strips={"known": known, "other": other},
            rng=np.random.default_rng(number),
        )
        path = folder / f"pair-{number + 1}.tif"
        ppi = (scanner.ppi, scanner.ppi)
        tifffile.imwrite(path, scan.pixels, photometric="rgb", resolution=ppi, resolutionunit=2)
        paths.append(path)
    return paths


def _middle(strip: PrintedStrip) -> tuple[float, float]:
    return strip.layout.width / 2, strip.layout.height / 2


def _elsewhere() -> Scene:
    """Give a painting; it lies beside the scanner."""
    return make_scene("coast", seed=1, size=(60.0, 50.0), ppi=100)


def glass(ppi: float, lamp: str = "white-led", sensor: str = "broad") -> ScannerModel:
    """Give a scanner whose window holds two strips."""
    return ScannerModel(glass=(190.0, 58.0), ppi=ppi, lamp=lamp, sensor=sensor, vignette=0.03)


def off(written: Path, true: PrintedStrip) -> FloatArray:
    """ΔE2000 of a written file's values from a strip's spectra."""
    values = read_reference(written).xyz
    return delta_e_2000(lab_from_xyz(values), lab_from_xyz(true_reference(true).xyz))


def measure(name: str, lamp: str, sensor: str, ppi: float, known: PrintedStrip) -> str:
    printer, drift = SHEETS[name]
    other = shipped_strip("strip-long", ppi=300, drift=drift, printer=printer, serial=OTHER)
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        paths = scan_pair(folder, known, other, glass(ppi, lamp, sensor))
        values = true_reference(known, noise=0.15, rng=np.random.default_rng(3))
        (folder / "known.txt").write_text(reference_text(values, "strip-long"))
        options = TransferOptions(known=(folder / "known.txt",), out=folder / "carried.txt")
        report = transfer(paths, options)
        errors = off(options.out, other)
        single = transfer(paths[:1], replace(options, out=folder / "one.txt"))
        plain = replace(options, out=folder / "plain.txt", other_ink=True)
        said = transfer(paths, plain).uncertainty.mean
        matrix = off(plain.out, other)
        one = off(Path(single.written), other)
    apart = delta_e_2000(
        lab_from_xyz(true_reference(known).xyz), lab_from_xyz(true_reference(other).xyz)
    ).mean()
    return (
        f"{name:30s} {lamp}/{sensor}: sheets {apart:.1f} apart; carried over mean "
        f"{errors.mean():.2f}, P95 {np.percentile(errors, 95):.2f} (stated "
        f"{report.uncertainty.mean:.2f}), one scan {one.mean():.2f}; with --other-ink "
        f"{matrix.mean():.2f} (stated {said:.2f})"
    )


def main() -> None:
    ppi = float(sys.argv[1]) if len(sys.argv) > 1 else 200.0
    known = shipped_strip("strip-long", ppi=300, serial=KNOWN)
    for name in SHEETS:
        for lamp, sensor in SCANNERS:
            sys.stdout.write(measure(name, lamp, sensor, ppi, known) + "\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
