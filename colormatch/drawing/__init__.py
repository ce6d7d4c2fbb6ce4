"""The strip as a printable sheet: vector page and raster."""

from colormatch.drawing.page import draw_page
from colormatch.drawing.raster import draw_raster

__all__ = ["draw_page", "draw_raster"]
