"""Checks of the strip as drawn."""
