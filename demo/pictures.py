"""The README's pictures: ``python -m demo.pictures DEMO-FOLDER`` after ``colormatch demo``.

Drawings and pages are taken by Debian's headless Chromium; without it they stay as
they are.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import tifffile
from numpy.typing import NDArray
from PIL import Image

PICTURES = Path(__file__).parent / "pictures"
WIDTH = 900


def small(path: Path, width: int) -> Image.Image:
    """Read a picture and reduce it to a width."""
    pixels: NDArray[np.uint16] | NDArray[np.uint8] = tifffile.imread(path)
    if pixels.dtype == np.uint16:
        pixels = (pixels >> 8).astype(np.uint8)
    picture = Image.fromarray(pixels)
    height = round(picture.height * width / picture.width)
    return picture.resize((width, height), Image.Resampling.LANCZOS)


def beside(pictures: list[Image.Image], gap: int = 12) -> Image.Image:
    """Set pictures side by side on white."""
    width = sum(p.width for p in pictures) + gap * (len(pictures) - 1)
    sheet = Image.new("RGB", (width, max(p.height for p in pictures)), "white")
    left = 0
    for picture in pictures:
        sheet.paste(picture, (left, 0))
        left += picture.width + gap
    return sheet


def shown(page: Path, size: tuple[int, int], shrink: float = 1.0) -> dict[str, Image.Image]:
    """Look at the top of a page or drawing; nothing where there is no browser."""
    browser = shutil.which("chromium")
    if browser is None:
        return {}
    with tempfile.TemporaryDirectory() as folder:
        shot = Path(folder) / "shot.png"
        flags = ("--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars")
        window = f"--window-size={size[0]},{size[1]}"
        subprocess.run(
            [browser, *flags, window, f"--screenshot={shot}", page.absolute().as_uri()],
            check=True,
            capture_output=True,
        )
        with Image.open(shot) as picture:
            seen = picture.convert("RGB")
    smaller = (round(seen.width * shrink), round(seen.height * shrink))
    return {page.stem: seen.resize(smaller, Image.Resampling.LANCZOS)}


def plan_drawing(folder: Path) -> Path:
    """Plan the scans of a larger painting, as the README's example does."""
    drawing = folder / "plan.svg"
    drawing.unlink(missing_ok=True)
    words = ("plan", "--painting", "50x70cm", "--frame", "stretched", "--out", str(drawing))
    subprocess.run([sys.executable, "-m", "colormatch", *words], check=True, capture_output=True)
    return drawing


def main() -> None:
    """Write the pictures from what the demo left."""
    folder = Path(sys.argv[1])
    half = (WIDTH - 12) // 2
    names = ("tile-1.tif", "tile-2.tif")
    sheets = {
        "strip": small(folder / "strip" / "strip.tif", WIDTH),
        "scans": beside([small(folder / "scans" / name, half) for name in names]),
        "matched": beside([small(folder / "matched" / name, half) for name in names]),
        "painting": small(folder / "painting.tif", WIDTH),
    }
    with Image.open(folder / "maps" / "seams.png") as seams:
        height = round(seams.height * half / seams.width)
        sheets["seams"] = seams.convert("RGB").resize((half, height), Image.Resampling.LANCZOS)
    sheets |= shown(folder / "report.html", (1000, 1240), 0.9)
    sheets |= shown(plan_drawing(folder), (WIDTH, 790))
    PICTURES.mkdir(exist_ok=True)
    for name, picture in sheets.items():
        picture.save(PICTURES / f"{name}.jpg", quality=85, optimize=True)


if __name__ == "__main__":
    main()
