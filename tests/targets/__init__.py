"""Checks of the shipped strips."""
