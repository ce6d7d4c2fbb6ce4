"""Checks of finding the strip."""
