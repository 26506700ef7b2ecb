"""The pictures of a clay on its page."""

from __future__ import annotations

from prospect.charts import clay_pictures
from prospect.clay import ClayReport
from prospect.clay.report import PreparationReport


def clay_charts(report: ClayReport, chosen: PreparationReport, units: str) -> str:
    """Return the pictures of one preparation of a clay side by side; empty when there is nothing to show."""
    figures = "".join(
        f"<figure><figcaption>{title}</figcaption>{drawing.picture()}</figure>"
        for title, drawing in clay_pictures(report, chosen, units)
    )
    return f'<div class="cw-charts">{figures}</div>' if figures else ""
