"""Compare rules for colours outside a space: the figures in `colormatch.colour.gamut`.

``python -m tests.benchmarks.gamut_rules`` prints ΔE2000 between colours outside the
space and their clipped form, mean / P95 / max, for each rule.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator

import numpy as np

from colormatch.colour.difference import delta_e_2000
from colormatch.colour.gamut import clip_to_gamut, out_of_gamut
from colormatch.colour.science import colour_science
from colormatch.colour.spaces import RGBSpace, lab_from_xyz, rgb_space
from colormatch.files.spectra import xyz_from_reflectance
from colormatch.model import FloatArray

SHARES = {"each channel by itself": 0.0, "a quarter to grey, then so": 0.25, "all to grey": 1.0}
"""How far each rule goes towards the grey of equal luminance before it clips."""


def clipped(rgb: FloatArray, luminance: FloatArray, share: float) -> FloatArray:
    """Move colours part of the way that would bring them in, then clip what is left."""
    grey = np.clip(rgb @ luminance, 0, 1)[:, None]
    away = rgb - grey
    room = np.where(away > 0, 1 - grey, grey) / np.maximum(np.abs(away), 1e-12)
    needed = 1 - np.minimum(room.min(axis=1, keepdims=True), 1)
    return clip_to_gamut(grey + away * (1 - share * needed))


def cases() -> Iterator[tuple[str, RGBSpace, FloatArray]]:
    """Give sets of colours, XYZ, and the space they are to fit into."""
    srgb, oprgb = rgb_space("srgb"), rgb_space("oprgb")
    steps = np.linspace(0, 1, 17)
    cube = np.stack(np.meshgrid(steps, steps, steps), -1).reshape(-1, 3)
    yield "opRGB cube, 17 steps, in sRGB", srgb, oprgb.decode(cube) @ oprgb.xyz_from_rgb.T
    colour = colour_science()
    from colour.quality.cfi2017 import load_TCS_CIE2017

    samples = load_TCS_CIE2017(colour.SpectralShape(380, 780, 5))
    xyz = xyz_from_reflectance(samples.wavelengths, samples.values.T, "CIE 224")
    yield "CIE 224 samples in sRGB", srgb, xyz
    yield "the same, 1.3 times as light", srgb, 1.3 * xyz
    yield "the same, 1.3 times, in opRGB", oprgb, 1.3 * xyz


def main() -> None:
    """Print the table."""
    for title, space, xyz in cases():
        rgb = xyz @ space.rgb_from_xyz.T
        outside = out_of_gamut(rgb, 1e-4)
        lab, rgb = lab_from_xyz(xyz[outside]), rgb[outside]
        sys.stdout.write(f"{title}: {len(rgb)} colours\n")
        for rule, share in SHARES.items():
            result = clipped(rgb, space.xyz_from_rgb[1], share) @ space.xyz_from_rgb.T
            error = delta_e_2000(lab, lab_from_xyz(result))
            figures = error.mean(), np.percentile(error, 95), error.max()
            sys.stdout.write(f"  {rule:28}" + " / ".join(f"{x:5.2f}" for x in figures) + "\n")


if __name__ == "__main__":
    main()
