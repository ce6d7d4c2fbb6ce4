"""Why a strip's millimetres and the file's resolution differ: what a scan can tell of it.

A print that was scaled and a file that states a wrong resolution look the same in a
scan, for marks, patches and symbol are scaled alike. Only a length that is known
besides tells them apart: the 100 mm rule on the printed page, or the strip's own
length, taken with a ruler. What is left to the scan is which of the two is likelier.
"""

from __future__ import annotations

from colormatch.model import Layout

ORDINARY_PPI = (72, 75, 96, 100, 150, 200, 240, 300, 360, 400, 600, 720, 800, 1200, 1600, 2400)
"""Resolutions that drivers offer and files state: common practice, no source."""

NEAR = 0.008
"""Share within which a resolution counts as one of them: less than the scale's limit."""

PRINTED = 0.15
"""Share by which prints are scaled at most when fitted to a page: between A4 and Letter,
or into a printer's margins, it is 3 to 9 percent."""

APART = 0.01
"""Difference of the two directions above which neither explains it."""


def scale_advice(seen: tuple[float, float], stated: tuple[float, float], layout: Layout) -> str:
    """Say what is likelier, and what to measure to know.

    Parameters
    ----------
    seen, stated : tuple of float
        Pixels per inch along the scan's x and y: by the strip's millimetres, and as
        the file states.
    layout : Layout
        The strip's design.
    """
    ratios = [a / b for a, b in zip(seen, stated, strict=True)]
    share = sum(ratios) / 2
    if abs(ratios[0] - ratios[1]) > APART:
        return (
            "the two directions differ, which neither a scaled print nor a wrong resolution "
            "explains alone: choose a resolution that the scanner has in both directions, look "
            "for a driver that stretches or a carriage that slips, and scan again; merge reckons "
            "with the strip's millimetres where they differ clearly, match leaves the picture as "
            "it is, stretched"
        )
    if _ordinary(sum(seen) / 2) and not 1 - PRINTED < share < 1 + PRINTED:
        likelier = (
            f"{sum(seen) / 2:.0f} ppi is an ordinary resolution, so the one in the file is "
            "probably wrong; "
        )
    elif _ordinary(sum(stated) / 2) and 1 - PRINTED < share < 1 + PRINTED:
        likelier = f"the strip was probably printed at {100 * share:.1f} %; "
    else:
        likelier = ""
    longer = f"{layout.width * share:.1f} mm instead of {layout.width:g} mm"
    return (
        f"{likelier}the scan alone cannot prove it: measure the strip's length with a ruler (or "
        f"the 100 mm rule of its page); {longer} ({100 * share:.1f} mm on the rule) means that it "
        "was printed scaled, so print it again at 100 % (actual size); the full length means "
        "that the file's resolution is wrong, so correct it in the scanner's driver"
    )


def _ordinary(ppi: float) -> bool:
    return any(abs(ppi / one - 1) < NEAR for one in ORDINARY_PPI)
