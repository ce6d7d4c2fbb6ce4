"""Layouts and reference values that ship, as data."""
