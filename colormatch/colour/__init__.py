"""Colour arithmetic: arrays in, arrays out."""
