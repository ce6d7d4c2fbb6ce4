"""What was carried over, as text for a terminal."""

from __future__ import annotations

from colormatch.verdict import TransferReport


def transfer_text(report: TransferReport) -> str:
    """Give the report as lines of text; ends without a line break."""
    out = report.uncertainty
    scans = "1 scan" if report.scans == 1 else f"{report.scans} scans"
    lines = [
        f"written: {report.written}, values of {report.patches} patches of {report.sheet}",
        f"    carried over from {report.source} by {scans}",
        f"    uncertainty of a patch: ΔE2000 mean {out.mean:.2f}, P95 {out.p95:.2f}, largest "
        f"{out.largest:.2f} (patch {report.least_certain})",
        f"    with another kind of ink expect about {report.other_ink:.2f} mean: a scanner sees "
        "other ink otherwise than the eye does",
    ]
    if report.between_scans is not None:
        lines.append(f"    scans agree to {report.between_scans:.2f} ΔE2000 per patch")
    if report.outliers:
        lines.append(f"    left out as outliers: {', '.join(report.outliers)}")
    lines.append(f"    next: give --reference {report.written} to check, match and merge")
    if report.assumed:
        lines += ["assumed or not measured:", *(f"    {line}" for line in report.assumed)]
    return "\n".join(lines)
