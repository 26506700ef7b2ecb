"""Damaged records: why, the newest good backup, brought back only when asked twice, or a good copy for looking only."""

from __future__ import annotations

from pathlib import Path

import pytest
from entering import labels, press, shown
from streamlit.testing.v1 import AppTest

from prospect.records import Sample
from prospect.store import Ground
from prospect.ui.screens import ground as ground_screen
from prospect.ui.visitor import Visitor

MAIN = str(Path(ground_screen.__file__).parents[1] / "main.py")


@pytest.fixture
def damaged(ground, monkeypatch):
    """A ground with two samples in its backup and a third one saved later, whose records are spoilt."""
    monkeypatch.setattr(ground_screen, "show_map", lambda state, *, key: None)
    ground.back_up()
    ground.add_samples([Sample("later", -128.99, -47.49)])
    text = bytearray(ground.records_path.read_bytes())
    text[:100] = b"not a database at all".ljust(100)
    ground.records_path.write_bytes(text)
    return ground.folder


def opened() -> AppTest:
    return AppTest.from_file(MAIN, default_timeout=120).run()


def test_the_reason_and_the_newest_good_backup_are_shown_and_nothing_is_changed(damaged):
    before = (damaged / "records.gpkg").read_bytes()
    app = opened()
    assert not app.exception
    assert "The records of this ground are damaged" in shown(app)
    assert "The newest good backup" in shown(app)
    assert (damaged / "records.gpkg").read_bytes() == before


def test_a_backup_is_brought_back_only_when_asked_twice(damaged):
    app = press(opened(), "Bring this backup back …")
    assert "damaged" in shown(app)
    press(app, "No, leave it")
    press(app, "Bring this backup back …")
    press(app, "Yes, bring it back")
    assert not app.exception
    assert "Where to look first" in shown(app)
    assert {sample.sample_id for sample in Ground.open(damaged).samples()} == {"A1", "A2"}


def test_the_good_copy_can_be_looked_at_and_nothing_can_be_saved(damaged):
    app = press(opened(), "Look at the last good copy only")
    assert not app.exception
    assert "Only for looking" in shown(app)
    assert "Where to look first" in shown(app)


def test_another_device_is_offered_nothing(damaged, monkeypatch):
    monkeypatch.setattr("prospect.ui.visitor.who_is_looking", lambda: Visitor(here=False, sees_owners=False))
    app = opened()
    assert labels(app) == set()
    assert str(damaged) not in shown(app)
