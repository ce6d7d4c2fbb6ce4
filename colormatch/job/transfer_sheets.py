"""The known sheet of a transfer, and both sheets found in a scan."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from colormatch.errors import ReferenceFileError, TargetError
from colormatch.files.layouts import shipped_layouts, shipped_reference
from colormatch.files.reference_sets import read_references
from colormatch.finding.grids import find_chart
from colormatch.finding.strips import find_strips
from colormatch.job.charts import named_layout, with_roles
from colormatch.job.options import TransferOptions
from colormatch.job.tiles import Opened, Target, matching_layouts
from colormatch.job.transfer_strips import Pair, told_apart
from colormatch.model import Layout, Reference, StripReading


@dataclass(frozen=True, kw_only=True, eq=False)
class Known:
    """The known sheet: its values, the designs they fit, and what else to look for."""

    reference: Reference
    target: Target
    designs: tuple[str, ...]


def load_known(options: TransferOptions) -> Known:
    """Read the known sheet's values and designs.

    Raises
    ------
    InputError
        If a file cannot be read, or nobody measured the values.
    """
    reference = read_references(options.known)
    if reference.kind == "nominal":
        raise ReferenceFileError(
            f"{reference.path}: holds nominal values, which nobody measured: give the file of a "
            "sheet that was measured"
        )
    shipped = shipped_layouts()
    layouts: Mapping[str, Layout] = shipped
    if options.layout is not None:
        layout = named_layout(options.layout)
        layouts = {layout.name: layout}
    fitting, chosen = matching_layouts(reference, layouts)
    expected = {name: shipped_reference(name) for name in shipped}
    expected = {name: expected.get(name, fitting[name]) for name in fitting} | expected
    told = {name: with_roles(layout, fitting[name]) for name, layout in chosen.items()}
    target = Target(layouts={**shipped, **told}, references=fitting, nominal=expected, assumed=())
    return Known(reference=reference, target=target, designs=tuple(fitting))


def find_pair(opened: Opened, known: Known, known_at: str) -> Pair:
    """Find the known sheet and the strip beside it in one scan.

    Raises
    ------
    TargetError
        If they are not there, or cannot be told apart.
    """
    scan = opened.scan
    layouts = known.target.layouts.values()
    strips = find_strips(
        opened.small,
        opened.step,
        scan.read,
        (scan.width, scan.height),
        tuple(layout for layout in layouts if layout.marks),
        references=known.target.nominal,
        ppi=scan.ppi,
    )
    charts = [_chart(opened, known, layout) for layout in layouts if not layout.marks]
    if not [*charts, *strips]:
        raise TargetError(
            f"{scan.path}: no strip is seen: lay the known sheet and the strip side by side, flat "
            "and whole on the glass, and scan again"
        )
    return told_apart(str(scan.path), [*charts, *strips], known.reference, known.designs, known_at)


def _chart(opened: Opened, known: Known, layout: Layout) -> StripReading:
    """Find a known sheet that has no marks."""
    scan, reference = opened.scan, known.target.references[layout.name]
    size = (scan.width, scan.height)
    search = find_chart(opened.small, opened.step, scan.read, size, layout, reference, ppi=scan.ppi)
    if search.strip is None:
        raise TargetError(f"{scan.path}: {search.reason}")
    return search.strip
