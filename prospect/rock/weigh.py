"""Turns the rocks met in a wording, each with its rank, into fractions of the unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from prospect.rock.fitness import parent_rocks
from prospect.rock.lexicon import Shares, lexicon
from prospect.rock.mix import RockMix, mix_of
from prospect.rock.scan import Phrase
from prospect.rock.vocabulary import lithology

RANKS = ("dominant", "base", "major", "minor")
LONGEST_UNREAD = 200


@dataclass(slots=True)
class Found:
    """One rock met in the wording: its mix (empty if unread), how much of it, and the word it was read from."""

    rocks: Shares
    rank: str
    word: str


def weigh(
    found: Sequence[Found],
    fallback: Sequence[Phrase],
    amounts: tuple[float, float, float],
    *,
    text: str,
    note: str,
) -> RockMix:
    """Return the mix of what was found; where no rock was, of the `fallback` adjectives (`clayey`) instead.

    `amounts` are the weights of a dominant, a major and a minor rock; each rock has the weight of its rank, and the
    weights are brought to a sum of 1 together with those of the words that look like rocks and could not be read.
    """
    if not any(item.rocks for item in found):
        spare = [Found(phrase.entry.adjective, "base", phrase.word) for phrase in fallback if phrase.entry]
        found = [*found, *spare]
    if not any(item.rocks for item in found):
        return RockMix((), (text.strip()[:LONGEST_UNREAD],), note)
    weight = _weights_by_rank(found, amounts)
    best: dict[str, tuple[str, float]] = {}
    for item in found:
        for term, part in item.rocks:
            if term not in best or (RANKS.index(item.rank), -part) < (
                RANKS.index(best[term][0]),
                -best[term][1],
            ):
                best[term] = (item.rank, part)
    kept = _without_umbrellas(_read_beside_others(best))
    unread = {item.word[:LONGEST_UNREAD]: weight[item.rank] for item in found if not item.rocks}
    total = sum(weight[rank] * part for rank, part in kept.values()) + sum(unread.values())
    shares = {term: weight[rank] * part / total for term, (rank, part) in kept.items()}
    return mix_of(shares, unread, note)


def _read_beside_others(best: dict[str, tuple[str, float]]) -> dict[str, tuple[str, float]]:
    """Read a word as what it means in the company of others: kaolin in a granite is altered granite."""
    terms, found = lithology(), dict(best)
    for rule in lexicon().beside:
        company = {narrow for broad in rule.beside for narrow in terms.under(broad)}
        if rule.term in found and not company.isdisjoint(found):
            found[rule.reads] = found.pop(rule.term)
    return found


def _weights_by_rank(found: Sequence[Found], amounts: tuple[float, float, float]) -> dict[str, float]:
    dominant, major, minor = amounts
    named = any(item.rank == "dominant" for item in found)
    return {"dominant": dominant, "base": major if named else dominant, "major": major, "minor": minor}


def _without_umbrellas(best: dict[str, tuple[str, float]]) -> dict[str, tuple[str, float]]:
    """Leave out the name of a whole class where a rock of that class is named too, and not only as a minor one."""
    terms, known, umbrella = lithology(), lexicon(), parent_rocks().umbrella
    kept = dict(best)
    for broad in best:
        if broad in known.classes or broad in umbrella:
            wide = known.as_wide_as.get(broad, broad)
            reach = terms.under(wide) - {broad} - known.as_wide_as.keys()
            if any(narrow in reach and rank != "minor" for narrow, (rank, _) in best.items()):
                del kept[broad]
    return kept
