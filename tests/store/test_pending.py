"""Drafts are listed, the one last typed into first."""

from __future__ import annotations

from prospect.records import GroundSettings
from prospect.store import Ground


def test_drafts_are_listed_newest_first_until_they_are_put_away(tmp_path):
    ground = Ground.create(tmp_path / "g", GroundSettings())
    assert ground.pending() == ()
    ground.keep_draft("sample a", {"name": "B1"})
    ground.keep_draft("permission b", {"parcel": "12"})
    ground.keep_draft("sample a", {"name": "B1", "note": "grey"})
    first, second = ground.pending()
    assert (first.key, dict(first.content)) == ("sample a", {"name": "B1", "note": "grey"})
    assert second.key == "permission b"
    assert first.at >= second.at
    ground.drop_draft("sample a")
    assert [draft.key for draft in ground.pending()] == ["permission b"]


def test_a_draft_changes_nothing_that_was_computed_from_the_records(tmp_path):
    ground = Ground.create(tmp_path / "g", GroundSettings())
    before = ground.records_stamp
    ground.keep_draft("sample a", {"name": "B1"})
    assert ground.records_stamp == before
    ground.change_settings(line_error_m=3.0)
    assert ground.records_stamp != before
