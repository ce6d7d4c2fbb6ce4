"""Colour consistency for paintings scanned in tiles beside a printed target."""

__version__ = "0.1.0"
