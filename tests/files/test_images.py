"""Files of every kind, and of none: one clear sentence, and no traceback."""

from __future__ import annotations

import io
import os
from pathlib import Path
from typing import Any

import imagecodecs
import numpy as np
import pytest
import tifffile
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from PIL import Image, ImageCms

from colormatch.errors import ScanError
from colormatch.files.images import open_scan
from colormatch.model import Window
from tests.files.pictures import noise, smooth, whole


def refused(path: Path, words: str) -> None:
    with pytest.raises(ScanError, match=words) as caught:
        open_scan(path)
    assert path.name in str(caught.value)
    assert "\n" not in str(caught.value)


def test_missing_file(tmp_path: Path) -> None:
    refused(tmp_path / "gone.tif", "there is no file .*: check its name and folder")


def test_missing_folder(tmp_path: Path) -> None:
    refused(tmp_path / "gone" / "a.tif", "there is no file")


def test_file_in_place_of_a_folder(tmp_path: Path) -> None:
    (tmp_path / "plain").write_bytes(b"x")
    refused(tmp_path / "plain" / "a.tif", "cannot be read")


def test_folder(tmp_path: Path) -> None:
    refused(tmp_path, "is a folder: name the scan files in it")


def test_empty_file(tmp_path: Path) -> None:
    (tmp_path / "a.tif").write_bytes(b"")
    refused(tmp_path / "a.tif", "is empty: copy or scan it again")


def test_pipe(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "a.tif")
    refused(tmp_path / "a.tif", "is not an ordinary file")


def test_impossible_name(tmp_path: Path) -> None:
    refused(tmp_path / ("x" * 300 + ".tif"), "cannot be read")


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read anything")
def test_closed_file(tmp_path: Path) -> None:
    path = tmp_path / "a.tif"
    path.write_bytes(b"x")
    path.chmod(0)
    refused(path, "may not be read")


def test_closed_file_as_the_system_reports_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.tif"
    path.write_bytes(b"x")

    def refuse(*_: object, **__: object) -> None:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    refused(path, "may not be read")


@pytest.mark.parametrize(
    ("start", "words"),
    [
        (b"hello", "is not a picture: give a scan saved as TIFF, PNG or JPEG"),
        (b"%PDF-1.7\n", "is a PDF document"),
        (b"\0\0\0\x18ftypheic", "phone's picture"),
        (b"BM\x00\x00", "is a BMP picture"),
        (b"II*", "is not a picture"),
    ],
)
def test_other_files(tmp_path: Path, start: bytes, words: str) -> None:
    (tmp_path / "a.tif").write_bytes(start)
    refused(tmp_path / "a.tif", words)


@pytest.mark.parametrize(
    "start", [b"II*\0", b"MM\0*", b"II+\0", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff"]
)
@pytest.mark.parametrize("rest", [b"", b"\0" * 40, b"\xff" * 40])
def test_signature_and_nothing_behind_it(tmp_path: Path, start: bytes, rest: bytes) -> None:
    (tmp_path / "a.tif").write_bytes(start + rest)
    refused(tmp_path / "a.tif", "is (cut short|damaged)")


def test_suffix_does_not_matter(tmp_path: Path) -> None:
    path = tmp_path / "really-png.tif"
    path.write_bytes(imagecodecs.png_encode(noise(5, 6, 16)))
    assert open_scan(str(path)).format == "png"


@pytest.mark.parametrize("end", ["tif", "png", "jpg"])
def test_one_pixel(tmp_path: Path, end: str) -> None:
    path = tmp_path / f"a.{end}"
    Image.new("RGB", (1, 1), (90, 90, 90)).save(path)
    scan = open_scan(path)
    np.testing.assert_array_equal(whole(scan), [[[90, 90, 90]]])
    scan.close()


@pytest.mark.parametrize("end", ["tif", "png", "jpg"])
@pytest.mark.parametrize(
    "window", [(-1, 0, 2, 2), (0, 0, 10, 4), (0, 5, 1, 5), (0, 0, 0, 3), (3, 3, 1, -1)]
)
def test_windows_outside_are_programming_errors(
    tmp_path: Path, end: str, window: tuple[int, int, int, int]
) -> None:
    path = tmp_path / f"a.{end}"
    Image.new("RGB", (9, 9)).save(path)
    row, column, height, width = window
    with pytest.raises(ValueError, match="window must lie in the picture, 9 x 9"):
        open_scan(path).read(Window(row=row, column=column, height=height, width=width))


def written(kind: str, **options: Any) -> bytes:
    stream = io.BytesIO()
    Image.fromarray(smooth(20, 24)).save(stream, kind, **options)
    return stream.getvalue()


def tiff(**options: Any) -> bytes:
    stream = io.BytesIO()
    tifffile.imwrite(stream, noise(20, 24, 16), photometric="rgb", **options)
    return stream.getvalue()


PROFILE = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
SEEDS = [
    tiff(resolution=(300, 300), iccprofile=PROFILE),
    tiff(compression="lzw", predictor=True, rowsperstrip=4),
    tiff(compression="zlib", tile=(16, 16), bigtiff=True, byteorder=">"),
    imagecodecs.png_encode(noise(20, 24, 16)),
    written("PNG", icc_profile=PROFILE, dpi=(300, 300)),
    written("JPEG", icc_profile=PROFILE, dpi=(300, 300)),
    written("JPEG", progressive=True),
]


def sentence_or_pixels(path: Path) -> str | None:
    """Give what the reader says of a damaged file; None if it gives sound pixels."""
    try:
        scan = open_scan(path)
        corner = Window(row=0, column=0, height=min(scan.height, 20), width=min(scan.width, 24))
        pixels = scan.read(corner)
    except ScanError as error:
        return str(error)
    scan.close()
    assert pixels.shape == (corner.height, corner.width, 3)
    assert pixels.dtype == f"u{scan.bits // 8}"
    return None


@settings(
    max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(data=st.data())
def test_damage_anywhere_is_refused_or_survived(tmp_path: Path, data: st.DataObject) -> None:
    content = bytearray(data.draw(st.sampled_from(SEEDS)))
    for _ in range(data.draw(st.integers(1, 4))):
        position = data.draw(st.integers(0, len(content) - 1))
        content[position] = data.draw(st.integers(0, 255))
    content = content[: data.draw(st.integers(len(content) // 2, len(content)))]
    path = tmp_path / "a"
    path.write_bytes(content)
    said = sentence_or_pixels(path)
    assert said is None or (str(path) in said and "\n" not in said)
