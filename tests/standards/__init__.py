"""Checks of published numbers."""
