"""Readers that take a known amount of memory, to check the measure by."""

from __future__ import annotations


class Nothing:
    """Stands for what was read."""

    log = None


def takes_nothing(kind, path, wording):
    return Nothing()


def takes_300_mb(kind, path, wording):
    held = b"1" * 300_000_000
    return Nothing() if held else None


def fails(kind, path, wording):
    raise KeyError(kind)
