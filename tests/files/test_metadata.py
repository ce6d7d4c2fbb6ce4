"""Texts of a picture in XMP, Exif, TIFF and PNG forms."""

from __future__ import annotations

from datetime import datetime
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from colormatch.files.metadata import (
    PictureFacts,
    exif_block,
    text_fields,
    tiff_fields,
    xmp_packet,
)

FACTS = PictureFacts(
    title="Fjord – 花 & <sea>",
    creator="Åse Ny",
    copyright="© 2026 Åse Ny",
    description="oil\non  linen",
    when=datetime(2026, 5, 6, 7, 8, 9),
)
DC = "{http://purl.org/dc/elements/1.1/}"
LI = "{http://www.w3.org/1999/02/22-rdf-syntax-ns#}li"


def dublin_core(packet: bytes) -> dict[str, str | None]:
    """Read the packet with a real XML parser."""
    tree = ElementTree.fromstring(packet.decode())
    items = (element for element in tree.iter() if element.tag.startswith(DC))
    return {element.tag.removeprefix(DC): next(element.iter(LI)).text for element in items}


def test_xmp_holds_the_texts() -> None:
    assert dublin_core(xmp_packet(FACTS)) == {
        "title": "Fjord – 花 & <sea>",
        "creator": "Åse Ny",
        "rights": "© 2026 Åse Ny",
        "description": "oil on linen",
    }


def test_xmp_of_nothing_is_still_a_packet() -> None:
    packet = xmp_packet(PictureFacts())
    assert dublin_core(packet) == {}
    # ISO 16684-1, 7.3.2: the packet's wrapper and its fixed ID.
    assert packet.startswith('<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>'.encode())
    assert packet.endswith(b'<?xpacket end="w"?>')


@given(st.text(max_size=50))
def test_any_text_survives_as_xml(text: str) -> None:
    facts = PictureFacts(title=text)
    assert dublin_core(xmp_packet(facts)).get("title") == facts.title
    assert facts.title is None or facts.title.split() == facts.title.split(" ")


def test_blank_texts_count_as_none() -> None:
    assert PictureFacts(title=" \n", creator="") == PictureFacts()


def test_tiff_fields() -> None:
    fields = tiff_fields(FACTS)
    assert fields[270] == b"oil on linen"
    assert fields[306] == b"2026:05:06 07:08:09"
    assert fields[315].decode() == "Åse Ny"
    assert tiff_fields(PictureFacts(title="Fjord"))[270] == b"Fjord"
    assert set(tiff_fields(PictureFacts())) == {305, 306}


def test_date_is_now_unless_given() -> None:
    date = datetime.strptime(PictureFacts().date, "%Y:%m:%d %H:%M:%S")
    assert abs((datetime.now() - date).total_seconds()) < 5


def test_png_keywords() -> None:
    # W3C PNG, third edition, 11.3.3.1: predefined keywords.
    expected = {"Title", "Author", "Copyright", "Description", "Software"}
    assert set(text_fields(FACTS)) == expected
    assert set(text_fields(PictureFacts())) == {"Software"}


@pytest.mark.parametrize(("srgb", "space"), [(True, 1), (False, 65535)])
def test_exif_as_pillow_reads_it(srgb: bool, space: int) -> None:
    exif = Image.Exif()
    exif.load(exif_block(FACTS, srgb=srgb, ppi=(600, 300.25)))
    assert exif.get_ifd(0x8769)[0xA001] == space
    assert (exif[282], exif[283], exif[296]) == (600, 300.25, 2)
    assert exif[306] == "2026:05:06 07:08:09"
    assert exif[315].encode("latin-1").decode() == "Åse Ny"  # the reader knows Latin-1 alone
