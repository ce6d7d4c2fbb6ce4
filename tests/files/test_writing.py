"""Pictures written, and read back by every reader at hand."""

from __future__ import annotations

import errno
import itertools
import os
import re
import resource
import signal
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import cv2
import imagecodecs
import numpy as np
import psutil
import pytest
import tifffile
from numpy.typing import NDArray
from PIL import Image

from colormatch.colour.spaces import rgb_space
from colormatch.errors import OutputError
from colormatch.files.form import PictureForm
from colormatch.files.images import open_scan
from colormatch.files.metadata import PictureFacts
from colormatch.files.profiles import space_profile
from colormatch.files.tiff_writing import needs_bigtiff
from colormatch.files.writing import write_picture
from tests.files.pictures import noise, read_whole, smooth
from tests.files.tools import exiftool, needs, run

FACTS = PictureFacts(
    title="Fjord – 花", creator="Åse Ny", copyright="© 2026 Åse Ny", description="oil & linen"
)
PROFILE = space_profile(rgb_space("oprgb"))
SUFFIX = {"tiff": "tif", "png": "png", "jpeg": "jpg"}


def write(path: Path, pixels: NDArray[Any], *, block: int = 37, **options: Any) -> Path:
    options.setdefault("format", {"jpg": "jpeg", "tif": "tiff"}.get(path.suffix[1:], "png"))
    write_picture(
        path,
        (pixels[row : row + block] for row in range(0, len(pixels), block)),
        width=pixels.shape[1],
        height=pixels.shape[0],
        bits=8 * pixels.itemsize,
        **options,
    )
    return path


def by_opencv(path: Path) -> Any:
    read = cv2.imread(str(path), cv2.IMREAD_UNCHANGED)
    assert read is not None
    return read[..., ::-1]


def by_pillow(path: Path) -> Any:
    with Image.open(path) as image:
        return np.asarray(image)


def by_tifffile(path: Path) -> Any:
    return tifffile.imread(path)


def by_imagecodecs(path: Path) -> Any:
    return imagecodecs.png_decode(path.read_bytes())


TIFF_READERS = [by_opencv, by_tifffile, read_whole]
PNG_READERS = [by_opencv, by_imagecodecs, read_whole]


@pytest.mark.parametrize("size", [(1, 1), (3, 200), (64, 5), (150, 77)])
@pytest.mark.parametrize(
    ("bits", "compression"),
    [(8, "none"), (8, "deflate"), (8, "lzw"), (16, "none"), (16, "deflate")],
)
@pytest.mark.parametrize("reader", TIFF_READERS)
def test_tiff_is_exact(
    tmp_path: Path,
    reader: Callable[[Path], Any],
    bits: int,
    compression: str,
    size: tuple[int, int],
) -> None:
    pixels = noise(*size, bits)
    path = write(tmp_path / "a.tif", pixels, compression=compression)
    read = reader(path)
    assert read.dtype == pixels.dtype
    np.testing.assert_array_equal(read, pixels)


@pytest.mark.parametrize("compression", ["none", "deflate", "lzw"])
def test_tiff_in_pillow(tmp_path: Path, compression: str) -> None:
    pixels = noise(150, 77, 8)
    path = write(tmp_path / "a.tif", pixels, compression=compression)
    np.testing.assert_array_equal(by_pillow(path), pixels)


@pytest.mark.parametrize("size", [(1, 1), (3, 200), (64, 5), (1500, 777)])
@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("reader", PNG_READERS)
def test_png_is_exact(
    tmp_path: Path, reader: Callable[[Path], Any], bits: int, size: tuple[int, int]
) -> None:
    pixels = noise(*size, bits)
    path = write(tmp_path / "a.png", pixels)
    read = reader(path)
    assert read.dtype == pixels.dtype
    np.testing.assert_array_equal(read, pixels)


def test_png_in_pillow(tmp_path: Path) -> None:
    pixels = smooth(150, 77)
    np.testing.assert_array_equal(by_pillow(write(tmp_path / "a.png", pixels)), pixels)


@pytest.mark.parametrize("size", [(1, 1), (7, 9), (64, 64), (65, 8), (700, 333)])
@pytest.mark.parametrize("reader", [by_opencv, by_pillow, read_whole])
def test_jpeg_equals_one_coded_in_one_piece(
    tmp_path: Path, reader: Callable[[Path], Any], size: tuple[int, int]
) -> None:
    """The strips join without a trace: the same pixels as libjpeg-turbo gives whole."""
    pixels = smooth(*size) + (noise(*size, 8) >> 5)
    coded = imagecodecs.jpeg8_encode(pixels, 95, subsampling="444")
    read = reader(write(tmp_path / "a.jpg", pixels))
    np.testing.assert_array_equal(read, imagecodecs.jpeg8_decode(coded))


def test_jpeg_as_wide_as_it_goes(tmp_path: Path) -> None:
    pixels = np.tile(smooth(72, 655), (1, 100, 1))
    read = by_pillow(write(tmp_path / "a.jpg", pixels))
    assert np.abs(read.astype(int) - pixels).mean() < 1


def test_jpeg_keeps_full_colour_resolution_and_quality(tmp_path: Path) -> None:
    path = write(tmp_path / "a.jpg", smooth(64, 64))
    with Image.open(path) as image:
        assert [layer[1:3] for layer in image.layer] == [(1, 1)] * 3  # type: ignore[attr-defined]
        tables = image.quantization  # type: ignore[attr-defined]
    Image.fromarray(smooth(64, 64)).save(tmp_path / "b.jpg", quality=95)
    with Image.open(tmp_path / "b.jpg") as image:
        assert image.quantization == tables  # type: ignore[attr-defined]


@pytest.mark.parametrize("form", ["tiff", "png", "jpeg"])
def test_labels_come_back_through_our_own_reader(tmp_path: Path, form: str) -> None:
    path = tmp_path / f"a.{SUFFIX[form]}"
    scan = open_scan(write(path, smooth(20, 30), profile=PROFILE, ppi=(600, 600), facts=FACTS))
    assert scan.format == form
    assert scan.profile == PROFILE
    # A PNG counts whole pixels per metre: W3C PNG, 11.3.5.3.
    assert scan.ppi == pytest.approx((600, 600), abs=0.0 if form != "png" else 0.0013)
    assert scan.notes == ()


@pytest.mark.parametrize("form", ["tiff", "png", "jpeg"])
def test_a_picture_without_labels(tmp_path: Path, form: str) -> None:
    scan = open_scan(write(tmp_path / f"a.{SUFFIX[form]}", smooth(20, 30)))
    assert (scan.profile, scan.ppi, scan.notes) == (None, None, ())


@needs("exiftool")
@pytest.mark.parametrize("form", ["tiff", "png", "jpeg"])
def test_exiftool_reads_every_label(tmp_path: Path, form: str) -> None:
    path = tmp_path / f"a.{SUFFIX[form]}"
    facts = exiftool(write(path, smooth(20, 30), profile=PROFILE, ppi=(600, 300), facts=FACTS))
    assert facts["XMP-dc:Title"] == FACTS.title
    assert facts["XMP-dc:Creator"] == FACTS.creator
    assert facts["XMP-dc:Rights"] == FACTS.copyright
    assert facts["XMP-dc:Description"] == FACTS.description
    assert facts["ICC_Profile:ProfileDescription"] == "opRGB (IEC 61966-2-5)"
    assert not [name for name in facts if "Warning" in name or "Error" in name]
    if form == "png":
        assert facts["PNG-pHYs:PixelsPerUnitX"] == 23622
        assert facts["PNG-pHYs:PixelsPerUnitY"] == 11811
        assert facts["PNG:Title"] == FACTS.title
        assert facts["PNG:Author"] == FACTS.creator
        assert facts["PNG:Copyright"] == FACTS.copyright
    else:
        assert (facts["IFD0:XResolution"], facts["IFD0:YResolution"]) == (600, 300)
        assert facts["IFD0:Artist"] == FACTS.creator
        assert facts["IFD0:Copyright"] == FACTS.copyright
        assert facts["IFD0:ImageDescription"] == FACTS.description
        assert facts["IFD0:Software"].startswith("colormatch ")


@needs("exiftool")
@pytest.mark.parametrize(("space", "value"), [("srgb", 1), ("oprgb", 65535)])
@pytest.mark.parametrize("version", [4, 2])
def test_exif_names_srgb_and_nothing_else(
    tmp_path: Path, space: str, value: int, version: int
) -> None:
    profile = space_profile(rgb_space(space), version)
    facts = exiftool(write(tmp_path / "a.jpg", smooth(9, 9), profile=profile))
    assert facts["ExifIFD:ColorSpace"] == value


@needs("tiffinfo")
@pytest.mark.parametrize("bits", [8, 16])
@pytest.mark.parametrize("compression", ["none", "deflate"])
def test_libtiff_reads_all_the_data(tmp_path: Path, bits: int, compression: str) -> None:
    path = write(tmp_path / "a.tif", noise(150, 77, bits), compression=compression, profile=PROFILE)
    said = run("tiffinfo", "-D", path)
    assert re.search(rf"Bits/Sample: {bits}\n", said)
    assert re.search(r"Rows/Strip: 64\n", said)
    assert f"ICC Profile: <present>, {len(PROFILE)} bytes" in said
    assert not re.search("warning|error", said, re.IGNORECASE)


@needs("pngcheck")
@pytest.mark.parametrize("bits", [8, 16])
def test_pngcheck_finds_nothing_wrong(tmp_path: Path, bits: int) -> None:
    pixels = noise(700, 333, bits)
    path = write(tmp_path / "a.png", pixels, profile=PROFILE, ppi=(300, 300), facts=FACTS)
    said = run("pngcheck", "-v", path)
    assert "No errors detected" in said


@needs("tificc")
@pytest.mark.parametrize("version", [4, 2])
def test_littlecms_converts_the_written_tiff(tmp_path: Path, version: int) -> None:
    """From opRGB to sRGB by the embedded profile; greys keep their light."""
    codes = np.linspace(0, 65535, 256).astype(np.uint16)
    pixels = np.repeat(codes[None, :, None], 3, axis=2).repeat(8, axis=0)
    profile = space_profile(rgb_space("oprgb"), version)
    path = write(tmp_path / "a.tif", pixels, profile=profile, compression="none")
    run("tificc", "-t1", "-w16", "-o*sRGB", path, tmp_path / "b.tif")
    light = rgb_space("oprgb").decode(codes / 65535)
    expected = rgb_space("srgb").encode(light) * 65535
    read = tifffile.imread(tmp_path / "b.tif").astype(float)[0]
    # Its optimised path samples the curves: darkest tones are off by up to 1 %
    # of the range; from a tenth of the range on it is good to 30 steps.
    np.testing.assert_allclose(read[26:, 1], expected[26:], rtol=0, atol=30)
    np.testing.assert_allclose(read[:26, 1], expected[:26], rtol=0, atol=700)


@pytest.mark.parametrize(
    ("side", "bits", "compression", "expected"),
    [
        (10_000, 16, "none", False),
        (26_700, 16, "none", False),
        (26_800, 16, "none", True),
        (26_750, 16, "deflate", True),
        (37_000, 8, "deflate", False),
        (37_000, 8, "lzw", True),
    ],
)
def test_bigtiff_only_beyond_four_gigabytes(
    side: int, bits: int, compression: str, expected: bool
) -> None:
    form = PictureForm(width=side, height=side, bits=bits, profile=None, ppi=None, facts=FACTS)
    assert needs_bigtiff(form, compression) == expected


def test_noise_never_outgrows_the_allowance_for_lzw() -> None:
    data = np.random.default_rng(0).bytes(4_000_000)
    assert len(imagecodecs.lzw_encode(data)) < 1.5 * len(data)


def names(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


FORMS = ["tiff", "png", "jpeg"]


@pytest.mark.parametrize("form", FORMS)
def test_existing_file_is_kept_and_blocks_are_not_asked_for(tmp_path: Path, form: str) -> None:
    path = tmp_path / "a"
    path.write_bytes(b"old")

    def never() -> Iterator[NDArray[np.uint8]]:
        pytest.fail("no block may be made")
        yield smooth(4, 4)

    with pytest.raises(OutputError, match="exists already"):
        write_picture(path, never(), width=4, height=4, bits=8, format=form)
    assert path.read_bytes() == b"old"


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("trouble", [KeyboardInterrupt, MemoryError, OutputError])
def test_nothing_is_left_when_the_giver_fails(
    tmp_path: Path, form: str, trouble: type[BaseException]
) -> None:
    def failing() -> Iterator[NDArray[np.uint8]]:
        yield smooth(400, 40)
        raise trouble

    with pytest.raises(trouble):
        write_picture(tmp_path / "a", failing(), width=40, height=800, bits=8, format=form)
    assert names(tmp_path) == []


@pytest.mark.parametrize("form", FORMS)
@pytest.mark.parametrize("rows", [399, 401])
def test_wrong_number_of_rows_leaves_nothing(tmp_path: Path, form: str, rows: int) -> None:
    with pytest.raises(ValueError, match="400 rows together"):
        write_picture(
            tmp_path / "a", iter([smooth(rows, 40)]), width=40, height=400, bits=8, format=form
        )
    assert names(tmp_path) == []


@contextmanager
def largest_file(size: int) -> Iterator[None]:
    """Let the system refuse files beyond ``size`` bytes, as a full disk would."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    ignored = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, ignored)


@pytest.mark.parametrize("size", [0, 100, 5000, 100_000, 700_000])
@pytest.mark.parametrize("form", FORMS)
def test_refused_by_the_system_at_any_point(tmp_path: Path, form: str, size: int) -> None:
    pixels = noise(600, 500, 8)
    with (
        largest_file(size),
        pytest.raises(OutputError, match=r"cannot write .*a\.x: file too large; free some space"),
    ):
        write(tmp_path / "a.x", pixels, format=form, compression="none", quality=100)
    assert names(tmp_path) == []


@pytest.mark.parametrize("form", FORMS)
def test_full_disk_on_settling(tmp_path: Path, form: str, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OutputError, match="no space left on device"):
        write(tmp_path / "a.x", smooth(60, 50), format=form)
    assert names(tmp_path) == []


@pytest.mark.parametrize(
    ("pixels", "options", "words"),
    [
        (noise(9, 9, 16), {"format": "jpeg"}, "a JPEG holds 8 bits per channel; ask for 8"),
        (noise(1, 65501, 8), {"format": "jpeg"}, "at most 65500 pixels a side.*65501 x 1; write a"),
        (
            noise(9, 9, 16),
            {"compression": "lzw", "format": "tiff"},
            "LZW makes 16-bit scans larger",
        ),
        (
            smooth(9, 9),
            {"format": "jpeg", "facts": PictureFacts(title="x" * 70_000)},
            "too long for a JPEG .* shorten them or write a TIFF",
        ),
    ],
)
def test_what_a_format_cannot_hold(
    tmp_path: Path, pixels: NDArray[Any], options: dict[str, Any], words: str
) -> None:
    with pytest.raises(OutputError, match=rf"cannot write .*out\.x: .*{words}"):
        write(tmp_path / "out.x", pixels, **options)
    assert names(tmp_path) == []


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"format": "gif"}, "format must be one of"),
        ({"compression": "zip", "format": "tiff"}, "compression must be one of"),
        ({"ppi": (0, 300)}, "ppi must be above 0"),
        ({"ppi": (float("nan"), 300)}, "ppi must be above 0"),
        ({"quality": 0, "format": "jpeg"}, "quality must be 1 to 100"),
    ],
)
def test_senseless_arguments_are_programming_errors(
    tmp_path: Path, options: dict[str, Any], words: str
) -> None:
    with pytest.raises(ValueError, match=words):
        write(tmp_path / "a.x", smooth(9, 9), **options)
    assert names(tmp_path) == []


@pytest.mark.parametrize("form", FORMS)
def test_progress_rises_to_one(tmp_path: Path, form: str) -> None:
    told: list[tuple[str, float]] = []
    write(
        tmp_path / "a.x",
        smooth(100, 20),
        format=form,
        progress=lambda label, done: told.append((label, done)),
    )
    assert [label for label, _ in told] == ["writing a.x"] * 3
    assert [done for _, done in told] == [0.37, 0.74, 1.0]


@pytest.mark.parametrize(("form", "bits"), list(itertools.product(FORMS, [8, 16])))
def test_memory_stays_bounded(tmp_path: Path, form: str, bits: int) -> None:
    if form == "jpeg" and bits == 16:
        pytest.skip("a JPEG has 8 bits")
    width, height, block = 3000, 6000, noise(100, 3000, bits)  # 108 MB at 16 bits
    most = 0

    def blocks() -> Iterator[NDArray[Any]]:
        nonlocal most
        for _ in range(height // len(block)):
            yield block
            most = max(most, psutil.Process().memory_info().rss)

    write(tmp_path / "warm", block, format=form)  # the libraries are in memory
    before = psutil.Process().memory_info().rss
    write_picture(tmp_path / "a", blocks(), width=width, height=height, bits=bits, format=form)
    assert most - before < 40e6
