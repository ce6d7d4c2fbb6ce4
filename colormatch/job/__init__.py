"""The stages in order: what the command line, or a script, calls."""

from __future__ import annotations

from colormatch.job.checking import check
from colormatch.job.matching import match
from colormatch.job.merging import merge
from colormatch.job.options import CheckOptions, MatchOptions, MergeOptions

__all__ = ["CheckOptions", "MatchOptions", "MergeOptions", "check", "match", "merge"]
