"""All tiles together: group by settings, fit each group, judge each tile."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from colormatch.errors import ContradictedError, FitError
from colormatch.files.profiles import read_input_profile
from colormatch.fitting.choosing import Choice, choose
from colormatch.fitting.deciding import Decision
from colormatch.fitting.grouping import group_by_curve
from colormatch.fitting.judging import TileJudgement, judge
from colormatch.fitting.maps import ColourMap, plain_map
from colormatch.fitting.matrix import spans_colour
from colormatch.job.swatches import Swatches, decide_map
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
    decision: Decision | None = None

    @property
    def colour_map(self) -> ColourMap:
        """What leads from light to colour: the strip's 3x3 unless paints decided otherwise."""
        if self.decision is not None:
            return self.decision.map
        return plain_map(self.choice.solution.xyz_from_rgb, np.ones(3))


def fit_tiles(tiles: Sequence[Tile], swatches: Swatches | None = None) -> list[FittedTile]:
    """Fit all tiles; the result is in the order given, a scan of swatches last.

    Raises
    ------
    FitError
        If a tile's patches do not determine a fit, or contradict the reference.
    """
    everyone = [*tiles] if swatches is None else [*tiles, swatches.tile]
    for tile in everyone:
        _require_colour(tile)
    placed: dict[int, FittedTile] = {}
    for group in group_by_curve([tile.readings for tile in everyone]):
        own = swatches if len(tiles) in group else None
        for index, fitted in zip(group, _fit_group([everyone[i] for i in group], own), strict=True):
            placed[index] = fitted
    return [placed[i] for i in range(len(everyone))]


def _fit_group(tiles: Sequence[Tile], swatches: Swatches | None) -> list[FittedTile]:
    readings = [tile.readings for tile in tiles]
    table, note = starting_table(tiles)
    choice = choose(readings, table)
    judgements = judge(readings, choice.solution)
    names = tuple(tile.readings.name for tile in tiles if not _is_sheet(tile, swatches))
    fitted = [
        FittedTile(tile=tile, choice=choice, index=i, judgement=j, group=names, profile_note=note)
        for i, (tile, j) in enumerate(zip(tiles, judgements, strict=True))
    ]
    for one in fitted:
        _require_same_sheet(one)
    if swatches is None:
        return fitted
    decision = decide_map(tiles, choice.solution, swatches, len(tiles) - 1)
    return [replace(one, decision=decision) for one in fitted]


def _is_sheet(tile: Tile, swatches: Swatches | None) -> bool:
    return swatches is not None and tile is swatches.tile


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
    mean = float(np.mean(fitted.judgement.alike))
    if mean > HOPELESS:
        raise ContradictedError(
            f"{fitted.tile.readings.name}: the strip's colours do not fit the reference values "
            f"(mean ΔE2000 {mean:.1f}), so this is the reference of another sheet, or the layout "
            "of another target: give the pair that belongs together"
        )
