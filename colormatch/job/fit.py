"""All tiles together: group by settings, fit each group, judge each tile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from colormatch.errors import FitError
from colormatch.files.profiles import read_input_profile
from colormatch.fitting.choosing import Choice, choose
from colormatch.fitting.grouping import group_by_curve
from colormatch.fitting.judging import TileJudgement, judge
from colormatch.fitting.matrix import spans_colour
from colormatch.job.tiles import Tile
from colormatch.model import FloatArray

HOPELESS = 12.0
"""Mean CIEDE2000 on the strip beyond which it is another sheet than the reference's."""


@dataclass(frozen=True, kw_only=True, eq=False)
class FittedTile:
    """A tile, the group's fit, its place in the group, and its judgement."""

    tile: Tile
    choice: Choice
    index: int
    judgement: TileJudgement
    group: tuple[str, ...]
    profile_note: str


def fit_tiles(tiles: Sequence[Tile]) -> list[FittedTile]:
    """Fit all tiles; the result is in the order given.

    Raises
    ------
    FitError
        If a tile's patches do not determine a fit, or contradict the reference.
    """
    for tile in tiles:
        _require_colour(tile)
    placed: dict[int, FittedTile] = {}
    for group in group_by_curve([tile.readings for tile in tiles]):
        for index, fitted in zip(group, _fit_group([tiles[i] for i in group]), strict=True):
            placed[index] = fitted
    return [placed[i] for i in range(len(tiles))]


def _fit_group(tiles: Sequence[Tile]) -> list[FittedTile]:
    readings = [tile.readings for tile in tiles]
    table, note = starting_table(tiles)
    choice = choose(readings, table)
    judgements = judge(readings, choice.solution)
    names = tuple(tile.readings.name for tile in tiles)
    fitted = [
        FittedTile(tile=tile, choice=choice, index=i, judgement=j, group=names, profile_note=note)
        for i, (tile, j) in enumerate(zip(tiles, judgements, strict=True))
    ]
    for one in fitted:
        _require_same_sheet(one)
    return fitted


def starting_table(tiles: Sequence[Tile]) -> tuple[FloatArray | None, str]:
    """Curves of the embedded profile, if all tiles carry the same usable one."""
    profiles = {tile.scan.profile for tile in tiles}
    if profiles == {None}:
        return None, "no profile is embedded: the tone curve is taken from the strip alone"
    if len(profiles) > 1:
        return None, (
            "the tiles carry different embedded profiles: they are ignored, and the tone curve "
            "is taken from the strip alone"
        )
    data = profiles.pop()
    profile = read_input_profile(data or b"")
    if not profile.usable or profile.curves is None:
        return None, (
            f"the embedded profile is ignored ({profile.reason}): the tone curve is taken from "
            "the strip alone"
        )
    return profile.curves, (
        f"the embedded profile {profile.description!r} was one of the starting points for the "
        "tone curve; its colours are replaced by those of the strip"
    )


def _require_colour(tile: Tile) -> None:
    readings = tile.readings
    if not np.isfinite(readings.xyz).all():
        raise FitError(
            f"{readings.name}: the reference has values that are no numbers; correct the file"
        )
    if not spans_colour(np.maximum(readings.rgb, 1e-4) ** 2.2):
        raise FitError(
            f"{readings.name}: the strip reads as shades of one colour, from which no colour "
            "can be fitted; scan in colour, not in grey"
        )


def _require_same_sheet(fitted: FittedTile) -> None:
    mean = float(np.mean(fitted.judgement.fitted))
    if mean > HOPELESS:
        raise FitError(
            f"{fitted.tile.readings.name}: the strip's colours do not fit the reference values "
            f"(mean ΔE2000 {mean:.1f}): this is the reference of another sheet, or the layout "
            "of another target; give the pair that belongs together"
        )
