"""Every hostile input is met as it should be, says where, costs little, and gets nothing done but being read."""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator

import pytest
from corpus import CASES
from corpus import case as case_module
from corpus.case import Case
from reading_as import TODAY, check_log, read_as
from watch import Listener, Seen, watched

from prospect.sources.reading import Wording

MOST_MB, MOST_SECONDS, MOST_WALL_SECONDS = 500.0, 5.0, 30.0
VERDICTS = {"refused": "refused", "accepted with notes": "repaired", "accepted": "accepted"}


class Tally:
    """What is counted over the whole corpus."""

    def __init__(self) -> None:
        self.verdicts: Counter[str] = Counter()
        self.messages = self.placed = self.whole = 0
        self.memory: tuple[float, str] = (0.0, "")
        self.time: tuple[float, str] = (0.0, "")


def resting_mb() -> float:
    """Return the memory of a process that has the readers loaded and nothing read."""
    words = (
        "import prospect.sources.reading, prospect.criteria\n"
        "print(next(l.split()[1] for l in open('/proc/self/status') if l.startswith('VmRSS')))"
    )
    if not os.path.exists("/proc/self/status"):  # noqa: PTH110
        return 0.0
    done = subprocess.run([sys.executable, "-c", words], capture_output=True, text=True, check=True)
    return int(done.stdout) / 1000


@pytest.fixture(scope="module")
def tally(figures: dict[str, str]) -> Iterator[Tally]:
    counted = Tally()
    yield counted
    total = sum(counted.verdicts.values())
    if not total:
        return
    shown = ", ".join(f"{counted.verdicts[word]} {word}" for word in ("refused", "repaired", "accepted"))
    figures["hostile files"] = f"{total}: {shown}"
    share = counted.placed / max(counted.messages, 1)
    figures["hostile files, messages that name a place or field"] = (
        f"{share:.1%} of {counted.messages}; {counted.whole} more are about a file as a whole"
    )
    figures["hostile files, memory"] = (
        f"{resting_mb() + counted.memory[0]:.0f} MB at most in a process that reads ({counted.memory[1]})"
    )
    figures["hostile files, longest"] = f"{counted.time[0]:.1f} s ({counted.time[1]})"


@pytest.mark.parametrize("case", CASES, ids=str)
def test_corpus(case: Case, tmp_path, listener: Listener, tally: Tally, monkeypatch):
    folder = tmp_path / "given"
    folder.mkdir()
    (tmp_path / "temporary").mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "temporary"))
    monkeypatch.setattr(case_module, "PORT", listener.port)
    path = case.build(folder)
    legend = case.legend(folder) if case.legend else None
    wording = Wording(crs=case.crs, mapping=case.mapping, legend=legend, today=TODAY)
    callers = listener.callers
    with watched(tmp_path) as seen:
        log, message = read_as(case.kind, path, wording)
    check_log(log, message, path)
    _harmless(seen, listener.callers - callers)
    problems = "\n".join(issue.sentence()[:300] for issue in log.issues[:6])
    assert VERDICTS[log.verdict] == case.verdict, problems
    if case.place:
        assert any(case.place in f"{i.place} {i.field}" for i in log.issues), problems
    if case.counts:
        assert (log.read, log.kept, log.repaired, log.refused) == case.counts, problems
    tally.verdicts[case.verdict] += 1
    for issue in log.issues:
        named = bool(issue.field or issue.place not in ("", "whole file"))
        if case.whole and not named:
            tally.whole += 1
        else:
            tally.messages += 1
            tally.placed += named
    tally.memory = max(tally.memory, (seen.grown_mb, str(case)))
    tally.time = max(tally.time, (seen.wall_s, str(case)))


def _harmless(seen: Seen, callers: int) -> None:
    assert not seen.asked
    assert callers == 0
    assert not seen.started
    assert not seen.written, "something was written outside"
    assert not seen.left, "something was left behind"
    assert seen.grown_mb + 270 < MOST_MB, f"{seen.grown_mb:.0f} MB"
    assert seen.cpu_s < MOST_SECONDS
    assert seen.wall_s < MOST_WALL_SECONDS
