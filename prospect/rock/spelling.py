"""Guesses the rock word that a misspelt word was meant to be, and rather leaves it unread than guesses wildly."""

from __future__ import annotations

from functools import lru_cache

from prospect.rock.lexicon import lexicon

SHORTEST_TARGET = 6
TWO_ERRORS_FROM = 10


def edit_distance(first: str, second: str, most: int) -> int:
    """Return how many letters must be put in, left out, changed or swapped with their neighbour, up to `most` + 1.

    Damerau's distance in its restricted form (optimal string alignment): no part is edited twice.
    """
    if abs(len(first) - len(second)) > most:
        return most + 1
    before: list[int] = []
    above = list(range(len(second) + 1))
    for i, letter in enumerate(first, 1):
        row = [i]
        for j, other in enumerate(second, 1):
            cost = min(above[j] + 1, row[j - 1] + 1, above[j - 1] + (letter != other))
            if i > 1 and j > 1 and letter == second[j - 2] and first[i - 2] == other:
                cost = min(cost, before[j - 2] + 1)
            row.append(cost)
        if min(row) > most:
            return most + 1
        before, above = above, row
    return above[-1]


@lru_cache(maxsize=65536)
def likely_meant(word: str) -> str:
    """Return the rock word that `word` (lower case) is a slip of, or '' when none is close enough or two are.

    One slip is forgiven in words of six letters and more, two in words of ten and more; the first letter must
    stand, and ordinary words that merely look like rocks are left alone.
    """
    words = lexicon()
    if len(word) < SHORTEST_TARGET - 1 or words.singular(word) in words.known_words | words.protected:
        return ""
    if word in words.protected or word.rstrip("s") in words.protected:
        return ""
    found: dict[int, set[str]] = {}
    for target in words.rock_words:
        if target[0] != word[0] or len(target) < SHORTEST_TARGET:
            continue
        most = 2 if len(target) >= TWO_ERRORS_FROM else 1
        for form in (word, word[:-1]) if word.endswith("s") else (word,):
            distance = edit_distance(form, target, most)
            if distance <= most:
                found.setdefault(distance, set()).add(target)
    nearest = found[min(found)] if found else set()
    return nearest.pop() if len(nearest) == 1 else ""
