"""What the three writers need to know of a picture beside its pixels."""

from __future__ import annotations

from dataclasses import dataclass

from colormatch.files.metadata import PictureFacts


@dataclass(frozen=True, kw_only=True)
class PictureForm:
    """Size, depth and labels of a picture to be written.

    Attributes
    ----------
    width, height : int
        Pixels.
    bits : int
        8 or 16 per channel.
    profile : bytes or None
        ICC profile to embed.
    ppi : tuple of float or None
        Pixels per inch across and down.
    facts : PictureFacts
        Title, creator, copyright, description.
    """

    width: int
    height: int
    bits: int
    profile: bytes | None
    ppi: tuple[float, float] | None
    facts: PictureFacts

    def __post_init__(self) -> None:
        if min(self.width, self.height) < 1:
            raise ValueError(f"width and height must be above 0 (got {self.width} x {self.height})")
        if self.bits not in (8, 16):
            raise ValueError(f"bits must be 8 or 16 (got {self.bits})")
        if self.ppi is not None and not all(0 < value < 2**31 for value in self.ppi):
            raise ValueError(f"ppi must be above 0 (got {self.ppi})")
