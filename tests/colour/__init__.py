"""Checks of colour arithmetic."""
