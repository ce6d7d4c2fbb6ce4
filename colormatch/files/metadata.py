"""What a picture file says of itself, in the forms of the three formats."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any
from xml.sax.saxutils import escape

from colormatch import __version__

SOFTWARE = f"colormatch {__version__}"
SRGB, UNCALIBRATED = 1, 65535
"""Values of the Exif tag ColorSpace, Exif 2.32, 4.6.5, table 7 (cited from memory)."""

EXIF_IFD, EXIF_VERSION, COLOR_SPACE = 0x8769, 0x9000, 0xA001

XMP_FRAME = """<?xpacket begin="\ufeff" id="W5M0MpCehiHzreSzNTczkc9d"?>
<x:xmpmeta xmlns:x="adobe:ns:meta/">
 <rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">
  <rdf:Description rdf:about="" xmlns:dc="http://purl.org/dc/elements/1.1/"
    xmlns:xmp="http://ns.adobe.com/xap/1.0/">
{properties}
  </rdf:Description>
 </rdf:RDF>
</x:xmpmeta>
<?xpacket end="w"?>"""
"""Packet of ISO 16684-1 (XMP, part 1), 7.3: the ID is the standard's."""


@dataclass(frozen=True, kw_only=True)
class PictureFacts:
    """Title, maker and rights of a picture; each may be left out.

    Attributes
    ----------
    title, creator, copyright, description : str or None
        Any text; control characters become spaces.
    when : datetime or None
        Date of the file; None for the moment of writing.
    """

    title: str | None = None
    creator: str | None = None
    copyright: str | None = None
    description: str | None = None
    when: datetime | None = None

    def __post_init__(self) -> None:
        for name in ("title", "creator", "copyright", "description"):
            text = getattr(self, name)
            if text is not None:
                object.__setattr__(self, name, _plain(text) or None)

    @property
    def date(self) -> str:
        """Date and time in the form of TIFF and Exif."""
        return (self.when or datetime.now()).strftime("%Y:%m:%d %H:%M:%S")


def _plain(text: str) -> str:
    """Leave out what XML 1.0 and one-line fields cannot hold."""
    marks = (mark if mark.isprintable() or mark.isspace() else " " for mark in text)
    return " ".join("".join(marks).split())


def xmp_packet(facts: PictureFacts) -> bytes:
    """Give the XMP packet: Dublin Core title, creator, rights and description."""
    properties = [
        _alternatives("title", facts.title),
        _sequence("creator", facts.creator),
        _alternatives("rights", facts.copyright),
        _alternatives("description", facts.description),
        f"   <xmp:CreatorTool>{SOFTWARE}</xmp:CreatorTool>",
    ]
    return XMP_FRAME.format(properties="\n".join(filter(None, properties))).encode()


def _alternatives(name: str, text: str | None) -> str:
    item = f'<rdf:li xml:lang="x-default">{escape(text or "")}</rdf:li>'
    return f"   <dc:{name}><rdf:Alt>{item}</rdf:Alt></dc:{name}>" if text else ""


def _sequence(name: str, text: str | None) -> str:
    item = f"<rdf:li>{escape(text or '')}</rdf:li>"
    return f"   <dc:{name}><rdf:Seq>{item}</rdf:Seq></dc:{name}>" if text else ""


def tiff_fields(facts: PictureFacts) -> dict[int, bytes]:
    """Give the ASCII fields of TIFF 6.0 by tag, as UTF-8.

    270 holds the description, or the title where there is none; both are apart
    in the XMP packet.
    """
    texts = {
        270: facts.description or facts.title,
        305: SOFTWARE,
        306: facts.date,
        315: facts.creator,
        33432: facts.copyright,
    }
    return {tag: text.encode() for tag, text in texts.items() if text}


def text_fields(facts: PictureFacts) -> dict[str, str]:
    """Give the keywords of PNG's text chunks (W3C PNG, 11.3.3.1) with their texts."""
    texts = {
        "Title": facts.title,
        "Author": facts.creator,
        "Copyright": facts.copyright,
        "Description": facts.description,
        "Software": SOFTWARE,
    }
    return {keyword: text for keyword, text in texts.items() if text}


def exif_block(facts: PictureFacts, *, srgb: bool, ppi: tuple[float, float] | None = None) -> bytes:
    """Give the Exif block of a JPEG, with its ``Exif`` prefix.

    Parameters
    ----------
    facts : PictureFacts
        Texts, stored as UTF-8.
    srgb : bool
        True if the picture is sRGB; Exif knows no other space by name, and any
        other is "uncalibrated": the embedded profile tells which.
    ppi : tuple of float, optional
        Pixels per inch across and down.
    """
    from PIL import Image

    exif: Any = Image.Exif()
    exif.update(tiff_fields(facts))
    if ppi is not None:
        exif.update({282: ppi[0], 283: ppi[1], 296: 2})
    space = SRGB if srgb else UNCALIBRATED
    exif.get_ifd(EXIF_IFD).update({EXIF_VERSION: b"0232", COLOR_SPACE: space})
    return bytes(exif.tobytes())
