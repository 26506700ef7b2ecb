"""The command that says what a sample's tests mean: clay."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from pathlib import Path
from typing import Any

import click

from prospect.clay import ClayReport, hole_evidence
from prospect.clay.evidence import HoleEvidence
from prospect.clay.measuring import Measurement
from prospect.clay.verdict import UseVerdict
from prospect.cli.ground import as_json, folder_argument
from prospect.cli.look import purpose_option
from prospect.cli.opening import open_for_looking
from prospect.cli.printing import percent, print_json, say
from prospect.pipeline.clay_reports import clay_report, layers_of
from prospect.text import plain


@click.command("clay", short_help="What a sample's tests or a hole say, and what the clay is fit for.")
@folder_argument
@click.argument("name", metavar="SAMPLE")
@purpose_option
@as_json
def clay(folder: Path, name: str, purpose: str | None, as_json: bool) -> None:
    """Say what the tests of a sample or a batch mean and what the clay is fit for, each with what it rests on.

    Of a hole or a face, say what it tells the map, and what is known of each of its layers.
    """
    ground = open_for_looking(folder)
    book, wanted = ground.log_book(), purpose or ground.settings.purpose
    hole = next((item for item in book.holes if item.hole_id == name), None)
    if hole is not None and name not in {item.sample_id for item in book.samples}:
        _say_hole(hole_evidence(book, hole, wanted), layers_of(hole, wanted), as_json=as_json)
        return
    report = clay_report(ground, name, wanted, book)
    if as_json:
        print_json(as_words(report))
        return
    _print(report)


COMMANDS = (clay,)


def _say_hole(evidence: HoleEvidence, layers: Sequence[ClayReport], *, as_json: bool) -> None:
    if as_json:
        told = {"hole": evidence.hole_id, **{k: v for k, v in asdict(evidence).items() if k != "hole_id"}}
        print_json({**told, "layers": [as_words(report) for report in layers]})
        return
    say(
        f"{plain(evidence.hole_id)} to the map: worth having? {evidence.usable} "
        f"({plain('; '.join(evidence.reasons), most=2000)})"
    )
    for report in layers:
        say("")
        _print(report)


def as_words(report: ClayReport) -> dict[str, Any]:
    """Return a report as plain lists and numbers."""
    return {
        "sample": report.name,
        "purpose": report.purpose,
        "usable": report.usable,
        "quality": report.quality,
        "completeness": report.completeness,
        "because": report.usable_because,
        "measurements": [_measurement(item) for item in report.measurements],
        "preparations": [
            {
                "preparation": part.preparation,
                "title": part.title,
                "readings": [
                    {
                        "question": reading.question,
                        "sentence": reading.sentence,
                        "rests_on": sorted({name for item in reading.measurements for name in item.sources}),
                    }
                    for reading in part.readings
                ],
                "uses": [_verdict(verdict) for verdict in part.verdicts],
            }
            for part in report.preparations
        ],
        "next_step": None if report.next_step is None else report.next_step.title,
        "doubts": list(report.doubts),
        "cautions": list(report.cautions),
    }


def _measurement(item: Measurement) -> dict[str, Any]:
    many = item.spread
    return {
        "key": item.key,
        "title": item.title,
        "value": item.value,
        "unit": item.unit,
        "readings": 1 if many is None else many.n,
        "low": None if many is None else many.low,
        "high": None if many is None else many.high,
        "deviation": None if many is None else many.deviation,
        "preparation": item.preparation,
        "cone": item.cone,
        "sources": list(item.sources),
        "questioned": list(item.questioned),
        "note": item.note,
    }


def _verdict(verdict: UseVerdict) -> dict[str, Any]:
    return {
        "use": verdict.use.key,
        "fitness": verdict.fitness,
        "quality": verdict.quality,
        "completeness": verdict.completeness,
        "parts": [
            {
                "part": part.title,
                "suits": part.suits,
                "weight": part.weight,
                "reason": part.reason,
                "help": part.help,
                "rests_on": sorted({name for item in part.measurements for name in item.sources}),
            }
            for part in verdict.parts
        ],
        "untested": list(verdict.untested),
        "would_change": list(verdict.would_change),
        "capped_by": verdict.capped_by,
    }


def _print(report: ClayReport) -> None:
    quality = "" if report.quality is None else f", quality {report.quality:.2f}"
    say(
        f"{plain(report.name)}: worth having? {report.usable} ({plain(report.usable_because)}{quality}; "
        f"{percent(report.completeness)} of what matters was tested)"
    )
    for part in report.preparations:
        say("")
        say(f"{plain(part.title[:1].upper() + part.title[1:])}")
        for reading in part.readings:
            say(f"  {reading.title}: {plain(reading.sentence, most=4000)}")
        for verdict in part.verdicts:
            say(f"  {plain(verdict.sentence())}")
            for reason in verdict.parts:
                if reason.suits is not None:
                    names = sorted({name for item in reason.measurements for name in item.sources})
                    behind = (
                        f"   [{plain(', '.join(names[:6]))}{' …' if len(names) > 6 else ''}]" if names else ""
                    )
                    told = plain(reason.reason.removeprefix(f"{reason.title}: "))
                    say(f"    {reason.title}: {told}, suits {reason.suits:.2f}{behind}")
            if verdict.untested:
                say(f"    Not tested: {'; '.join(verdict.untested)}.")
            if verdict.would_change:
                say(f"    Would change it: {plain(' '.join(verdict.would_change), most=2000)}")
    say("")
    if report.next_step is not None:
        say(f"Next: {report.next_step.title}: {report.next_step.why}.")
    for line in (*report.doubts, *report.cautions):
        say(f"  {plain(line, most=2000)}")
