"""Tests of levelling."""
