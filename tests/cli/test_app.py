"""The app opens a browser only where one can show itself."""

from __future__ import annotations

import sys

import pytest

from prospect.cli.app import _has_a_screen


@pytest.mark.parametrize(
    ("system", "named", "opens"),
    [
        ("linux", {}, False),
        ("linux", {"DISPLAY": ""}, False),
        ("linux", {"DISPLAY": ":0"}, True),
        ("linux", {"WAYLAND_DISPLAY": "wayland-0"}, True),
        ("linux", {"BROWSER": "lynx"}, True),
        ("darwin", {}, True),
        ("win32", {}, True),
    ],
)
def test_a_browser_is_opened_only_where_there_is_a_screen(monkeypatch, system, named, opens):
    for name in ("DISPLAY", "WAYLAND_DISPLAY", "BROWSER"):
        monkeypatch.delenv(name, raising=False)
    for name, value in named.items():
        monkeypatch.setenv(name, value)
    monkeypatch.setattr(sys, "platform", system)
    assert _has_a_screen() == opens
