"""What owners say is written down on the screen, never written over, and shown with a word and a shape."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from entering import field, fill, labels, open_room, press, shown

from prospect.records import Permission
from prospect.store import Ground
from prospect.ui.permission_cards import parcel_rows
from prospect.ui.permission_reading import limits_in_words, read_permission
from prospect.ui.screens import permissions as screen
from prospect.ui.visitor import Visitor

TODAY = date.today().isoformat()


def begun():
    return press(open_room("permissions"), "Write down an answer")


def test_leave_with_all_its_limits_goes_on_record(ground):
    app = fill(begun(), parcel="001", person="Mirel Ashdown", status="granted")
    fill(app, speaks_as="owner", scope="take")
    fill(app, depth="1,2", volume="0.5", amount="200 kg", until="31.12.2999", conditions="gate shut")
    field(app, "machine").check().run()
    press(app, "Save")
    assert "Saved: parcel 001, leave given" in shown(app)
    (entry,) = ground.permissions()
    assert (entry.parcel_id, entry.status, entry.scope) == ("001", "granted", "take")
    assert (entry.depth_m, entry.volume_m3, entry.amount_kg) == (1.2, 0.5, 200)
    assert (entry.machine, entry.may_sell, entry.valid_until) == (True, False, "2999-12-31")
    assert (entry.person, entry.speaks_as, entry.conditions) == ("Mirel Ashdown", "owner", "gate shut")
    assert ground.pending() == ()


def test_what_was_typed_is_there_again_after_the_page_was_lost(ground):
    app = fill(begun(), parcel="002", person="Tov Brandle", status="asked")
    again = open_room("permissions", answer=app.query_params["answer"])
    assert field(again, "parcel").value == "002"
    assert field(again, "person").value == "Tov Brandle"
    assert field(again, "status").value == "asked"
    elsewhere = open_room("permissions")
    assert "an answer for parcel 002" in shown(elsewhere)
    press(elsewhere, "Go on with it")
    assert field(elsewhere, "person").value == "Tov Brandle"


def test_leave_that_does_not_say_what_for_is_not_saved(ground):
    app = fill(begun(), parcel="001", status="granted")
    press(app, "Save")
    assert "Leave that does not say what for does not count" in shown(app)
    assert ground.permissions() == ()


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("depth", "deep", "is not a depth"),
        ("volume", "-3", "is not an amount"),
        ("until", "soon", "is not a day"),
    ],
)
def test_what_cannot_be_is_said_and_not_saved(ground, name, text, said):
    app = fill(begun(), parcel="001", status="granted", scope="dig", **{name: text})
    press(app, "Save")
    assert said in shown(app)
    assert ground.permissions() == ()


def test_a_no_keeps_no_limits_that_were_typed_before(ground):
    app = fill(begun(), parcel="001", status="granted", scope="dig", depth="deep")
    fill(app, status="refused")
    press(app, "Save")
    (entry,) = ground.permissions()
    assert (entry.status, entry.scope, entry.depth_m) == ("refused", None, None)


def test_the_ledger_of_a_parcel_shows_everything_newest_first_with_word_and_shape(ground):
    ground.permit(Permission("001", "granted", scope="dig", person="Mirel Ashdown"))
    ground.permit(Permission("001", "withdrawn", person="Mirel Ashdown", note="after the rain"))
    app = press(open_room("permissions"), "Open parcel 1 of the list")
    words = shown(app)
    assert words.index("Leave withdrawn") < words.index("Leave given")
    assert "■" in words
    assert "after the rain" in words
    assert "Who else may have a say" in words


def test_a_paper_is_kept_with_the_answer(ground, monkeypatch):
    class Paper:
        name = "../../../slip <b>.PDF"

        def getbuffer(self):
            return b"%PDF-1.4 signed"

    monkeypatch.setattr("streamlit.file_uploader", lambda *_, **__: Paper())
    app = fill(begun(), parcel="001", status="refused")
    press(app, "Save")
    (entry,) = ground.permissions()
    assert entry.document.endswith(".pdf")
    assert (ground.documents_folder / entry.document).read_bytes() == b"%PDF-1.4 signed"


def test_another_device_sees_no_names(ground, monkeypatch):
    ground.permit(
        Permission(
            "001",
            "granted",
            scope="walk",
            person="Mirel Ashdown",
            conditions="ask Mirel Ashdown",
            note="n-o-t-e",
        )
    )
    monkeypatch.setattr(screen, "who_is_looking", lambda: Visitor(here=False, sees_owners=False))
    app = open_room("permissions")
    assert "Mirel" not in shown(app)
    press(app, "Open parcel 1 of the list")
    assert "Mirel" not in shown(app)
    assert "n-o-t-e" not in shown(app)
    assert not app.get("download_button")


def test_nothing_is_offered_to_be_saved_when_nothing_can_be(ground, monkeypatch):
    ground.permit(Permission("001", "refused"))
    looking = Ground.open(ground.folder, read_only="another program has it open")
    monkeypatch.setattr(Ground, "open", classmethod(lambda cls, folder, **_: looking))
    app = open_room("permissions")
    assert labels(app) == {"Open parcel 1 of the list"}
    press(app, "Open parcel 1 of the list")
    assert "Write down an answer" not in labels(app)


def test_foreign_words_are_inert(ground, hostile):
    ground.permit(
        Permission(
            hostile,
            "granted",
            scope="dig",
            person=hostile,
            conditions=hostile,
            note=hostile,
            speaks_as=hostile,
        )
    )
    app = open_room("permissions")
    assert "<img" not in shown(app)
    press(app, "Open parcel 1 of the list")
    assert "<img" not in shown(app)
    press(app, "Write down an answer")
    assert field(app, "parcel").value == hostile.strip()


def test_us_measures_become_metric_ones():
    content = {
        "parcel": "1",
        "status": "granted",
        "scope": "take",
        "depth": "4",
        "volume": "2 yd³",
        "amount": "100 lb",
    }
    entry = read_permission(content, "us").entry
    # International foot 0.3048 m, yard 0.9144 m, pound 0.45359237 kg: the agreement of 1959.
    assert entry.depth_m == pytest.approx(4 * 0.3048)
    assert entry.volume_m3 == pytest.approx(2 * 0.9144**3, abs=1e-4)
    assert entry.amount_kg == pytest.approx(45.359237, abs=1e-4)
    assert "down to 4 ft" in limits_in_words(entry, "us")


def test_leave_that_ends_soon_is_called_to_mind_on_top(ground):
    soon = (date.today() + timedelta(5)).isoformat()
    ground.permit(Permission("001", "granted", scope="dig", valid_until=soon))
    assert "Mind the dates" in shown(open_room("permissions"))
    assert soon in shown(open_room("permissions"))


def test_the_parcel_last_written_about_comes_first():
    ledger = [Permission("a", "asked"), Permission("b", "asked"), Permission("a", "refused")]
    assert [row.parcel_id for row in parcel_rows(ledger, TODAY)] == ["a", "b"]
