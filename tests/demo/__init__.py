"""Checks of the invented painting and its scanner."""
