"""What was found at many spots: each finding speaks for a verdict, and the hardest answer wins."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field

import numpy as np

from prospect.records import Verdict
from prospect.types import IntArray

BESIDE, GO, ASK_FIRST, NOT_KNOWN, STAY_OUT = range(5)
"""How much a finding weighs; what stands beside speaks for nothing."""

VERDICTS: tuple[Verdict, ...] = ("ask first", "go", "ask first", "unknown", "stay out")
"""The verdict for the heaviest finding; with nothing that speaks for go, ask first."""

Say = Callable[[int, int], tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Finding:
    """One kind of finding at many spots.

    Attributes
    ----------
    weight
        One of the five weights.
    spots
        Numbers of the spots, ascending; a spot may be there more than once.
    about
        What the finding is about, a number for each entry of `spots`.
    say
        From spot and `about` to sentences; asked only when somebody wants the reasons.
    secret
        Whether the sentences give away what must stay unpublished.
    """

    weight: int
    spots: IntArray
    about: IntArray
    say: Say
    secret: bool = False


@dataclass(slots=True)
class Findings:
    """Every finding at `count` spots."""

    count: int
    found: list[Finding] = field(default_factory=list)

    def note(
        self,
        weight: int,
        spots: IntArray,
        say: Say,
        about: IntArray | None = None,
        *,
        secret: bool = False,
    ) -> None:
        """Add a finding; spots in any order."""
        if len(spots):
            about = np.zeros(len(spots), np.intp) if about is None else about
            order = np.argsort(spots, kind="stable")
            self.found.append(Finding(weight, spots[order], about[order], say, secret))

    def weights(self) -> IntArray:
        """Return the heaviest weight at each spot."""
        heaviest = np.full(self.count, BESIDE, np.intp)
        for finding in self.found:
            heaviest[finding.spots] = np.maximum(heaviest[finding.spots], finding.weight)
        return heaviest

    def reasons(self, spot: int) -> tuple[str, ...]:
        """Return the sentences about one spot, the deciding ones first, each once."""
        said = [(finding.weight, sentence) for finding, sentence in self._said(spot)]
        said.sort(key=lambda pair: -pair[0])
        return tuple(dict.fromkeys(sentence for _, sentence in said))

    def secrets(self, spot: int) -> tuple[str, ...]:
        """Return those sentences about one spot that give away what must stay unpublished."""
        return tuple(dict.fromkeys(sentence for finding, sentence in self._said(spot) if finding.secret))

    def _said(self, spot: int) -> Iterator[tuple[Finding, str]]:
        for finding in self.found:
            low, high = np.searchsorted(finding.spots, [spot, spot + 1])
            for about in finding.about[low:high].tolist():
                for sentence in finding.say(spot, about):
                    yield finding, sentence
