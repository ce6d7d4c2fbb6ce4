"""Finding strips in a scan, and reading them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from colormatch.finding.agreement import agrees, expectations, sampled_rgb
from colormatch.finding.centres import Centre, find_centre
from colormatch.finding.missing import explain_missing
from colormatch.finding.poses import (
    Pose,
    affine,
    applied,
    corners,
    full_scale,
    likely_poses,
    marks_needed,
)
from colormatch.finding.reading import Read, Region, read_patches, usable_patches
from colormatch.finding.rings import check_kinds
from colormatch.finding.scales import Resolution, likely_scales, reduced
from colormatch.finding.search import Places, look_for_marks
from colormatch.finding.stretched import ASPECTS, LEAST, MOST, stretched_poses
from colormatch.finding.symbols import read_symbol
from colormatch.model import FloatArray, Layout, Mark, Reference, StripReading

__all__ = ["explain_missing", "find_strips"]

MOST_STRIPS = 8

WINDOW = 1.15
"""Half the side of the window in which a mark is fitted, as a share of its radius."""

WHOLE = 0.78
"""Share of a mark's pixels that fit from which it is taken for uncovered."""


def find_strips(
    overview: FloatArray,
    step: int,
    read: Read,
    size: tuple[int, int],
    layouts: tuple[Layout, ...],
    *,
    references: Mapping[str, Reference],
    ppi: Resolution = None,
) -> list[StripReading]:
    """Find all strips in a scan, and read their patches.

    Parameters
    ----------
    overview : ndarray of float32, shape (H // step, W // step, 3)
        Block means of encoded values, 0 to 1; its pixel ``i`` has its centre at
        ``step * i + (step - 1) / 2`` in the scan. About 75 pixels per inch are enough.
    step : int
        Scan pixels per pixel of the overview.
    read : callable
        Gives the full-resolution pixels of a window.
    size : tuple of int
        Width and height of the scan.
    layouts : tuple of Layout
        The designs to look for.
    references : mapping of str to Reference
        Nominal or measured values of each layout, by its name: what tells a strip
        from a painting.
    ppi : tuple of float or float, optional
        Resolution as the file states it. Other resolutions are tried if it is
        absent or leads to nothing, and at last pictures stretched one way.

    Returns
    -------
    list of StripReading
        The one with most marks seen first; empty if there is none.

    Raises
    ------
    LayoutError
        If a mark is of an unknown kind.
    """
    for layout in layouts:
        check_kinds(layout.marks, layout.name)
    scene = _prepared(overview, step, read, size, layouts, references)
    looks: list[_Look] = []
    for scales in likely_scales(ppi, scene.step):
        for scale in scales:
            looks.append(_look(scene, scale))
            found = list(_strips_in(scene, looks[-1]))
            if found:
                return _surest_first(found)
    for look in looks:
        found = list(_strips_in(scene, look.surest(), ASPECTS))
        if found:
            return _surest_first(found)
    return []


def _surest_first(strips: list[StripReading]) -> list[StripReading]:
    """Sort strips: most marks seen first."""
    return sorted(strips, key=lambda strip: (-len(strip.marks_px), strip.marks_residual))


@dataclass(frozen=True, kw_only=True, eq=False)
class _Scene:
    """What `find_strips` was given, prepared."""

    overview: FloatArray
    grey: FloatArray
    step: int
    read: Read
    size: tuple[int, int]
    layouts: tuple[Layout, ...]
    expected: Mapping[str, FloatArray]


def _prepared(
    overview: FloatArray,
    step: int,
    read: Read,
    size: tuple[int, int],
    layouts: tuple[Layout, ...],
    references: Mapping[str, Reference],
) -> _Scene:
    overview, step = reduced(overview, step)
    grey = np.asarray((overview[..., 0] + overview[..., 1] + overview[..., 2]) / np.float32(3))
    return _Scene(
        overview=overview,
        grey=grey,
        step=step,
        read=read,
        size=size,
        layouts=layouts,
        expected=expectations(layouts, references),
    )


@dataclass(frozen=True, kw_only=True, eq=False)
class _Look:
    """Places that look like marks at one scale, by the diameter of the marks, mm."""

    scale: float
    places: Mapping[float, Places]

    def surest(self) -> _Look:
        """Keep what is so like a mark that many guesses can be made on it."""
        kept = {wide: value.surest(MOST, LEAST) for wide, value in self.places.items()}
        return replace(self, places=kept)

    def outside(self, pose: Pose) -> _Look:
        """Leave out the places that lie on a strip already found."""
        kept = {wide: _outside(value, pose) for wide, value in self.places.items()}
        return replace(self, places=kept)


def _look(scene: _Scene, scale: float) -> _Look:
    """Look for marks of one size."""
    diameters = {mark.diameter for layout in scene.layouts for mark in layout.marks}
    places = {wide: look_for_marks(scene.grey, scale * wide / 2) for wide in diameters}
    return _Look(scale=scale, places=places)


def _strips_in(
    scene: _Scene, look: _Look, aspects: tuple[float, ...] = ()
) -> Iterator[StripReading]:
    """Give the strips on places that look like marks, none twice."""
    for _ in range(MOST_STRIPS):
        best = _best(scene, look, aspects)
        if best is None:
            return
        pose, strip = best
        yield strip
        look = look.outside(pose)


def _best(
    scene: _Scene, look: _Look, aspects: tuple[float, ...]
) -> tuple[Pose, StripReading] | None:
    """Give the likeliest pose that the colours and the full resolution confirm."""
    for pose in _poses(scene.layouts, look, aspects):
        expected = scene.expected[pose.layout.name]
        if agrees(sampled_rgb(scene.overview, pose.px_from_mm, pose.layout), expected):
            strip = _reading(scene, pose.layout, full_scale(pose.px_from_mm, scene.step))
            if strip is not None and aspects:
                # The stretch tried is near the true one, which the marks have now shown.
                strip = _reading(scene, pose.layout, strip.px_from_mm) or strip
            if strip is not None:
                return pose, strip
    return None


def _poses(layouts: tuple[Layout, ...], look: _Look, aspects: tuple[float, ...]) -> list[Pose]:
    """List the poses of all designs, likeliest first; stretched ones if aspects are given."""
    poses: list[Pose] = []
    for layout in layouts:
        own, needed = look.places[layout.marks[0].diameter], marks_needed(layout)
        if not aspects:
            poses += likely_poses(own, layout, look.scale, needed)
        for aspect in aspects:
            poses += stretched_poses(own, layout, look.scale, needed, aspect)
    return sorted(poses, key=lambda pose: (-len(pose.seen), -pose.score))


def _outside(places: Places, pose: Pose) -> Places:
    """Leave out the places that lie on a strip already found."""
    inverse = np.linalg.inv(pose.px_from_mm[:, :2])
    mm = (places.points - pose.px_from_mm[:, 2]) @ inverse.T
    size = np.array([pose.layout.width, pose.layout.height])
    on_strip = np.asarray(((mm >= 0) & (mm <= size)).all(axis=1))
    return places.without(on_strip)


def _reading(scene: _Scene, layout: Layout, rough: FloatArray) -> StripReading | None:
    """Read a strip at full resolution; None if its marks do not hold there."""
    border = applied(rough, corners(layout))
    edge = 2 * scene.step
    region = Region(scene.read, scene.size, border.min(axis=0) - edge, border.max(axis=0) + edge)
    marks = _trusted(_exact_marks(region, rough, layout), marks_needed(layout))
    if len(marks) < marks_needed(layout):
        return None
    mm = np.array([(mark.x, mark.y) for mark in layout.marks if mark.id in marks])
    px = np.array([marks[mark.id] for mark in layout.marks if mark.id in marks])
    px_from_mm = affine(mm, px)
    away = np.linalg.norm(applied(px_from_mm, mm) - px, axis=1)
    residual = float(np.sqrt(np.mean(away**2)))
    return _assembled(layout, px_from_mm, marks, residual, region, scene.expected[layout.name])


def _exact_marks(region: Region, rough: FloatArray, layout: Layout) -> dict[str, Centre]:
    """Give the exact centres of the marks that are clearly seen."""
    found = {}
    for mark in layout.marks:
        centre = _exact_mark(region, rough, mark)
        if centre is not None and centre.clear:
            found[mark.id] = centre
    return found


def _trusted(marks: dict[str, Centre], needed: int) -> dict[str, tuple[float, float]]:
    """Drop marks that are covered in part, as long as enough others remain."""
    ranked = sorted(marks.items(), key=lambda item: -item[1].inliers)
    whole = [item for item in ranked if item[1].inliers >= WHOLE]
    kept = dict(whole if len(whole) >= needed else ranked[:needed])
    return {name: (kept[name].x, kept[name].y) for name in marks if name in kept}


def _exact_mark(region: Region, rough: FloatArray, mark: Mark) -> Centre | None:
    """Fit one mark in a window round where it must be."""
    guess = applied(rough, np.array([mark.x, mark.y]))
    linear = rough[:, :2]
    reach = WINDOW * mark.diameter / 2 * np.sqrt(abs(np.linalg.det(linear)))
    pixels, top, left = region.cut(guess - reach, guess + reach)
    if min(pixels.shape[:2]) < reach:
        return None
    grey = pixels.mean(axis=2) / np.iinfo(pixels.dtype).max
    place = (float(guess[0]) - left, float(guess[1]) - top)
    centre = find_centre(grey, place, linear, mark.diameter / 2, mark.kind)
    return centre and replace(centre, x=centre.x + left, y=centre.y + top)


def _assembled(
    layout: Layout,
    px_from_mm: FloatArray,
    marks: dict[str, tuple[float, float]],
    residual: float,
    region: Region,
    expected: FloatArray,
) -> StripReading:
    """Read the patches and put everything together."""
    means = read_patches(region, px_from_mm, layout)
    middles = np.array([(p.x + p.width / 2, p.y + p.height / 2) for p in layout.patches])
    serial, symbol = read_symbol(region, px_from_mm, layout.symbol)
    return StripReading(
        layout=layout,
        px_from_mm=px_from_mm,
        marks_px=marks,
        marks_residual=residual,
        centres=applied(px_from_mm, middles),
        rgb=np.array([mean.rgb for mean in means]),
        spread=np.array([mean.spread for mean in means]),
        inliers=np.array([mean.inliers for mean in means]),
        clipped=np.array([mean.clipped for mean in means]),
        halves=np.array([mean.halves for mean in means]),
        usable=usable_patches(means, expected),
        serial=serial,
        symbol=symbol,
    )
