"""Pictures and colours of the page, against LittleCMS and OpenCV."""

from __future__ import annotations

import base64

import cv2
import numpy as np
import pytest
from PIL import Image, ImageCms

from colormatch.reporting.pictures import data_uri, hex_from_lab, hex_from_srgb


def test_lab_becomes_the_srgb_that_littlecms_gives() -> None:
    codes = [(128, 0, 0), (200, 20, 40), (90, -30, 10), (140, 40, -20), (240, 0, 5), (60, 10, -35)]
    row = np.array([[(lightness, a % 256, b % 256) for lightness, a, b in codes]], np.uint8)
    lab = Image.frombytes("LAB", (len(codes), 1), row.tobytes())
    transform = ImageCms.buildTransform(
        ImageCms.createProfile("LAB"), ImageCms.createProfile("sRGB"), "LAB", "RGB",
        renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC, flags=ImageCms.Flags.NOOPTIMIZE,
    )  # fmt: skip
    done = ImageCms.applyTransform(lab, transform)
    assert done is not None
    theirs = np.asarray(done)[0].astype(int)
    for (lightness, a, b), wanted in zip(codes, theirs, strict=True):
        ours = hex_from_lab((lightness * 100 / 255, a, b))
        # Two codes: LittleCMS works in 8 and 16 bits, ours in floating numbers.
        assert np.abs(np.array(list(bytes.fromhex(ours[1:]))) - wanted).max() <= 2


def test_a_colour_outside_srgb_is_clipped() -> None:
    assert hex_from_lab((100.0, 0.0, 0.0)) == "#ffffff"
    assert hex_from_lab((50.0, 200.0, 0.0)).startswith("#ff00")
    assert hex_from_srgb((-0.2, 0.5, 1.4)) == "#0080ff"


def test_a_picture_comes_back_out_of_its_address() -> None:
    ramp = np.linspace(0, 255, 64).astype(np.uint8)
    picture = np.stack([np.tile(ramp, (48, 1))] * 3, axis=-1)
    picture[..., 2] = 90
    head, data = data_uri(picture).split(",")
    assert head == "data:image/jpeg;base64"
    read = cv2.imdecode(np.frombuffer(base64.b64decode(data), np.uint8), cv2.IMREAD_COLOR)
    assert read is not None
    assert read.shape == picture.shape
    assert float(np.abs(read[..., ::-1].astype(float) - picture).mean()) == pytest.approx(0, abs=4)
