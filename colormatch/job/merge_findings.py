"""Findings about tiles for which a merge has better evidence than a check."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from colormatch.fitting.problem import Solution
from colormatch.job.findings import advice_of, with_proven
from colormatch.job.lying import (
    edge_shadow,
    findings_of_placed,
    like_a_shadow,
    off_glass,
    weight,
)
from colormatch.job.merge_seams import Joined
from colormatch.job.merge_tiles import MergeTile, placing_tile
from colormatch.job.overviews import MM_PER_INCH
from colormatch.joining.records import Grid, Remark
from colormatch.placing.records import Placement
from colormatch.verdict import Advice, Box, Finding, JobReport, Kind, TileReport

FROM_OVERVIEWS = (Kind.EDGE_SHADOW, Kind.OFF_GLASS)
"""What a check sees in the overviews of an overlap, and a merge at full resolution."""


def with_merge_findings(
    report: JobReport, tiles: Sequence[MergeTile], placement: Placement, joined: Joined
) -> JobReport:
    """Replace what the overviews showed by what the join found at full resolution."""
    where = _Where(placement, joined.grid, tiles)
    found: dict[str, list[Finding]] = {}
    for name, finding in (*_shadows(joined.remarks, where), *_soft_places(joined.remarks, where)):
        found.setdefault(str(where.tile(name).scan.path), []).append(finding)
    return replace(report, tiles=tuple(_with(t, found.get(t.scan, ())) for t in report.tiles))


def _with(report: TileReport, found: Sequence[Finding]) -> TileReport:
    if report.error is not None:
        return report
    kept = [f for f in report.findings if f.kind not in FROM_OVERVIEWS or f.hint]
    findings = with_proven(kept, found)
    return replace(report, findings=findings, advice=advice_of(findings))


def placed_findings(
    tiles: Sequence[MergeTile], placement: Placement, solution: Solution
) -> Iterator[tuple[str, Finding]]:
    """Say which tiles are turned and which overlaps narrow, by where they were placed."""
    shown = tuple(replace(placing_tile(tile, solution), name=str(tile.scan.path)) for tile in tiles)
    compared = [(pair.first, pair.second) for pair in placement.pairs]
    return findings_of_placed(shown, placement.poses, compared)


class _Where:
    """Finds places of the joined picture in the scans."""

    def __init__(self, placement: Placement, grid: Grid, tiles: Sequence[MergeTile]) -> None:
        self.placement, self.grid, self.tiles = placement, grid, tiles

    def tile(self, name: str) -> MergeTile:
        return self.tiles[self.placement.names.index(name)]

    def box(self, name: str, box: Box) -> Box:
        """Upright box in a scan, mm, round a box of the painting, mm."""
        x, y, width, height = box
        corners = np.array([[x, y], [x + width, y], [x, y + height], [x + width, y + height]])
        canvas = self.grid.canvas_of_mm(corners)
        scan = self.placement.scan_from_canvas(self.placement.names.index(name), canvas)
        mm = (scan + 0.5) * MM_PER_INCH / np.array(self.tile(name).ppi)
        low, high = mm.min(axis=0), mm.max(axis=0)
        return (float(low[0]), float(low[1]), float(high[0] - low[0]), float(high[1] - low[1]))


def _shadows(remarks: Sequence[Remark], where: _Where) -> Iterator[tuple[str, Finding]]:
    """Tell shadows of folds and edges; of each two tiles only one has them.

    The other flank of a fold faces the lamp: there it is the other tile that is darker.
    """
    faulty: dict[frozenset[str], str] = {}
    for remark in sorted(filter(like_a_shadow, remarks), key=weight, reverse=True):
        darker, other = remark.tiles if remark.depth > 0 else remark.tiles[::-1]
        if faulty.setdefault(frozenset(remark.tiles), darker) != darker:
            continue
        # Taken from the other tile, it does the picture no harm.
        avoided = remark.kind == "shadow" and darker == remark.tiles[0]
        place = where.box(darker, remark.box)
        advice = Advice.USE if avoided else None
        yield darker, edge_shadow(abs(remark.depth), other, (place,), advice)


def _soft_places(remarks: Sequence[Remark], where: _Where) -> Iterator[tuple[str, Finding]]:
    """Tell soft places, all of a tile together: those off the glass, and milder ones."""
    alike: dict[tuple[str, str], list[Remark]] = {}
    for remark in remarks:
        if remark.kind in ("softer", "lifted"):
            alike.setdefault((remark.tiles[0], remark.kind), []).append(remark)
    for (name, kind), soft in alike.items():
        blur = max(remark.depth for remark in soft) * MM_PER_INCH / where.placement.ppi
        advice = Advice.CARE if kind == "lifted" else Advice.USE
        places = tuple(where.box(name, _box(remark)) for remark in soft)
        yield name, off_glass(blur, "another scan shows it", places, advice)


def _box(remark: Remark) -> Box:
    (x, y), (width, height) = remark.place, remark.size
    return (x - width / 2, y - height / 2, width, height)
