"""The strip as a printable sheet: vector page and raster."""
