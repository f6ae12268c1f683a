"""Notes: what the person should know, warnings at full size before the rest."""

from collections.abc import Sequence

from ..findings import Finding, Severity
from ..units import Units
from .cover_writer import TEXT_MM, CoverWriter

NOTE_MM = 3.0


def write_findings(
    writer: CoverWriter, findings: Sequence[Finding], units: Units, heading: str = "Please note"
) -> None:
    """Write findings under a heading, lengths in `units`; nothing where there are none."""
    if not findings:
        return
    writer.heading(heading)
    for finding in findings:
        writer.paragraph(
            f"• {units.said(finding.plain())}", TEXT_MM if finding.severity is Severity.WARNING else NOTE_MM
        )
