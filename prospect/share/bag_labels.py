"""Labels for bags and buckets: a short name, large, and what tells one bag from another; nothing private."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from prospect.errors import NothingToWorkWith
from prospect.records import Batch, Sample
from prospect.share.atomic import write_whole
from prospect.share.paper import SMALL, Look, Paper, about_characters

_ACROSS, _DOWN = 3, 9
_MOST_IN_NAME, _MOST_IN_HOLE = 40, 24


def write_bag_labels(
    path: Path,
    samples: Sequence[Sample],
    batches: Sequence[Batch] = (),
    *,
    units: Literal["metric", "us"] = "metric",
    made_on: str,
) -> tuple[str, ...]:
    """Write labels to cut out as a PDF; return sentences to tell the person.

    Parameters
    ----------
    path
        Where it goes.
    samples, batches
        What is in the bags. A label holds name, hole, depth and day: no place and no person.
    units
        Decides the paper, and cm or inches.
    made_on
        ISO date.

    Raises
    ------
    NothingToWorkWith
        When there is nothing to label.
    """
    labels = [_of_sample(sample, units) for sample in samples] + [_of_batch(batch) for batch in batches]
    if not labels:
        raise NothingToWorkWith("There is no sample and no batch to label.")
    paper = Paper(units, 9.5, "Bag labels", made_on)
    wide, high = paper.across / _ACROSS, (paper.bottom - paper.top) / _DOWN
    for number, (name, told) in enumerate(labels):
        place = number % (_ACROSS * _DOWN)
        if number and place == 0:
            paper.next_page()
        x, y = paper.left + place % _ACROSS * wide, paper.top + place // _ACROSS * high
        corners = [(x, y), (x + wide, y), (x + wide, y + high), (x, y + high)]
        paper.stroke(corners, 0.15, grey=0.6, closed=True, dash=(1.5, 1.5))
        look = next(
            (
                Look("B", size, 1.1)
                for size in (2.4, 1.8, 1.3, 1.0)
                if paper.wide(name, Look("B", size)) <= wide - 6
            ),
            Look("B", 0.8, 1.1),
        )
        below = paper.write(x + 3, y + 3, wide - 6, _short(name, _MOST_IN_NAME), look)
        paper.write(x + 3, below + 0.5, wide - 6, told, SMALL)
    write_whole(path, paper.pdf())
    return about_characters(paper.lacking)


def _of_sample(sample: Sample, units: str) -> tuple[str, str]:
    per, unit = (2.54, "in") if units == "us" else (1.0, "cm")
    ends = [depth for depth in (sample.top_cm, sample.bottom_cm) if depth is not None]
    depth = "–".join(f"{end / per:.0f}" for end in ends)
    told = [
        f"hole {_short(sample.hole_id, _MOST_IN_HOLE)}" if sample.hole_id else "",
        f"{depth} {unit}" if depth else "",
        sample.date[:10],
    ]
    return sample.sample_id, " · ".join(part for part in told if part)


def _of_batch(batch: Batch) -> tuple[str, str]:
    told = [
        f"hole {_short(batch.hole_id, _MOST_IN_HOLE)}" if batch.hole_id else "",
        batch.date[:10],
        f"{batch.mesh:g} mesh" if batch.mesh else "",
    ]
    return batch.batch_id, " · ".join(part for part in told if part)


def _short(name: str, most: int) -> str:
    """Return a name that fits, cut in its middle: names that go on counting differ at their ends."""
    return name if len(name) <= most else f"{name[: most - 16]}…{name[-15:]}"
