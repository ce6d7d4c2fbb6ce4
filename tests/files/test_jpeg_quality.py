"""The quality of a JPEG against the one its encoder (Pillow's libjpeg) was asked for."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from colormatch.files.jpeg_quality import saved_quality


@pytest.mark.parametrize("quality", [25, 50, 75, 90, 95])
def test_quality_is_read_back(tmp_path: Path, quality: int) -> None:
    pixels = np.random.default_rng(0).integers(0, 256, (32, 32, 3)).astype(np.uint8)
    Image.fromarray(pixels).save(tmp_path / "a.jpg", quality=quality)
    # Entries are rounded to whole numbers of at least 1.
    assert saved_quality(tmp_path / "a.jpg") == pytest.approx(quality, abs=1.5)
