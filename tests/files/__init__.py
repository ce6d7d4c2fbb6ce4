"""Checks of reading and writing files."""
