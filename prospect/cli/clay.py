"""The command that says what a sample's tests mean: clay."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from prospect.clay import ClayReport
from prospect.clay.measuring import Measurement
from prospect.clay.verdict import UseVerdict
from prospect.cli.ground import as_json, folder_argument
from prospect.cli.look import purpose_option
from prospect.cli.opening import open_for_looking
from prospect.cli.printing import percent, print_json, say
from prospect.pipeline.clay_reports import clay_report
from prospect.text import plain


@click.command("clay", short_help="What a sample's tests say, and what it is fit for.")
@folder_argument
@click.argument("sample")
@purpose_option
@as_json
def clay(folder: Path, sample: str, purpose: str | None, as_json: bool) -> None:
    """Say what the tests of a sample or a batch mean and what the clay is fit for, each with what it rests on."""
    report = clay_report(open_for_looking(folder), sample, purpose or "")
    if as_json:
        print_json(as_words(report))
        return
    _print(report)


COMMANDS = (clay,)


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
        "next_test": None if report.next_test is None else report.next_test.title,
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
                    say(f"    {reason.title}: {plain(reason.reason)}, suits {reason.suits:.2f}{behind}")
            if verdict.untested:
                say(f"    Not tested: {', '.join(verdict.untested)}.")
            if verdict.would_change:
                say(f"    Would change it: {plain(' '.join(verdict.would_change), most=2000)}")
    say("")
    if report.next_test is not None:
        say(f"Next on the bench: {report.next_test.title}: {report.next_test.why}.")
    for line in (*report.doubts, *report.cautions):
        say(f"  {plain(line, most=2000)}")
