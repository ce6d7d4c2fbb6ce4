"""Tests of the symbol that names a sheet."""
