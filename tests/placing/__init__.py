"""Checks of the placing room."""
