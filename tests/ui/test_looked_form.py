"""What somebody saw on the spot is written down from the reading of that spot, and shown with it."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from entering import field, fill, labels, press, shown
from streamlit.testing.v1 import AppTest

from prospect.land import Seen, shipped_rules
from prospect.records import LandCheck, Looked
from prospect.store import Ground
from prospect.ui.on_site import OnSpot, on_spot, read_looked, topics, without_the_list
from prospect.ui.screens import ground as ground_screen
from prospect.ui.show_map import Click
from prospect.ui.visitor import Visitor

MAIN = str(Path(ground_screen.__file__).parents[1] / "main.py")
TODAY = date.today().isoformat()


class PointedAt:
    """Stands where the map is drawn and answers with the best site's place."""

    def __init__(self):
        self.pointing = True

    def __call__(self, state, *, key):
        rank = state.ranks[0]
        return Click(rank.lon, rank.lat) if self.pointing else None


@pytest.fixture
def pointed(monkeypatch):
    fake = PointedAt()
    monkeypatch.setattr(ground_screen, "show_map", fake)
    return fake


@pytest.fixture
def app(ground, pointed):
    return AppTest.from_file(MAIN, default_timeout=120).run()


def look(app):
    app.button(key="write-looked-1").click().run()
    return app


def test_the_answer_about_the_land_is_the_first_thing_that_is_read(app):
    page = next(text for text in (e.proto.body for e in app.get("html")) if 'class="cw-page"' in text)
    assert page.index("cw-first") < page.index("<h2>")
    first = page[page.index("cw-first") : page.index("<h2>")]
    assert "Ask first" in first
    assert "◐" in first


def test_what_was_seen_goes_on_record_and_stands_in_the_reading(app, ground):
    assert "nobody has looked here yet" in shown(app)
    look(app)
    fill(app, answer="clear", seen="paint marks on the verge only", ticket="T-778", until="2999-12-31")
    press(app, "Save")
    (entry,) = ground.looked()
    assert (entry.keepout, entry.clear, entry.ticket) == ("utility_lines", True, "T-778")
    assert (entry.seen_on, entry.until, entry.radius_m) == (TODAY, "2999-12-31", 15)
    assert "Saved: what you saw on the spot" in shown(app)
    assert "looked at and clear: paint marks on the verge only" in shown(app)


def test_the_form_is_there_again_after_the_page_was_lost(app, ground, pointed):
    fill(look(app), answer="seen", seen="a well cap")
    pointed.pointing = False
    again = AppTest.from_file(MAIN, default_timeout=120)
    again.query_params["looked"] = app.query_params["looked"]
    again.run()
    assert field(again, "seen").value == "a well cap"
    press(again, "Save")
    assert ground.looked()[0].seen == "a well cap"
    assert "it is here: a well cap" in shown(again)


def test_clear_of_utility_lines_needs_the_ticket(app, ground):
    fill(look(app), answer="clear", seen="nothing to see")
    press(app, "Save")
    assert "counts only with the number of the ticket" in shown(app)
    assert ground.looked() == ()


def test_an_answer_and_a_sample_begin_from_the_spot(app, ground):
    app.button(key="write-answer-1").click().run()
    (draft,) = ground.pending()
    assert draft.key.startswith("permission ")
    assert draft.content["parcel"] in {"001", "002", "003", "004"}
    assert not app.exception


def test_nothing_is_offered_to_be_saved_when_nothing_can_be(ground, pointed, monkeypatch):
    looking = Ground.open(ground.folder, read_only="another program has it open")
    monkeypatch.setattr(Ground, "open", classmethod(lambda cls, folder, **_: looking))
    app = AppTest.from_file(MAIN, default_timeout=120).run()
    assert not {"A sample from here", "I looked", "Write down an answer"} & labels(app)
    assert "nothing can be saved now: another program has it open" in shown(app)


def test_another_device_reads_what_was_seen_without_the_names(app, ground, monkeypatch):
    spot = app.session_state["claywalk"].spot
    seen = "Mirel Ashdown showed me the drains"
    ground.note_looked(
        Looked("field_drains", *spot, clear=True, seen=seen, seen_on=TODAY, person="Mirel Ashdown")
    )
    assert seen in shown(app.run())
    monkeypatch.setattr(ground_screen, "who_is_looking", lambda: Visitor(here=False, sees_owners=False))
    told = shown(app.run())
    assert "the owner showed me the drains" in told
    assert "Ashdown" not in told


def test_a_spot_off_the_map_is_told_of_in_the_order_in_which_it_was_typed(app, pointed):
    pointed.pointing = False
    app.session_state["claywalk"].read_spot(22.93, -47.48)
    told = shown(app.run())
    assert "47.48000° S, 22.93000° E is not on this ground, which reaches from 47." in told


def looked(**changes):
    given = {
        "keepout": "utility_lines",
        "lon": 0.0,
        "lat": 0.0,
        "clear": True,
        "seen": "x",
        "seen_on": "2026-05-01",
    }
    return Looked(**{**given, **changes})


@pytest.mark.parametrize(
    ("records", "state"),
    [
        ([], "open"),
        ([(looked(ticket="T-1"), 0, 0)], "clear"),
        ([(looked(), 0, 0)], "over"),
        ([(looked(ticket="T-1"), 0, 40)], "open"),
        ([(looked(ticket="T-1", until="2026-05-10"), 0, 0)], "over"),
        ([(looked(), 0, 0), (looked(clear=False, seen_on="2026-05-03"), 3, 3)], "seen"),
        ([(looked(keepout="unmarked_grave"), 0, 0)], "open"),
    ],
)
def test_the_latest_record_near_the_spot_speaks(records, state):
    asked = topics(shipped_rules(), ("keepouts", "water", "wetlands", "roads"))
    found = on_spot(asked, [Seen(*record) for record in records], 0, 0, "2026-05-12")
    assert next(one for one in found if one.topic.key == "utility_lines").state == state


def test_a_map_that_is_not_here_is_to_be_looked_for_on_the_spot():
    keys = {topic.key for topic in topics(shipped_rules(), ("water", "wetlands"))}
    assert {"keepouts", "roads", "utility_lines"} <= keys
    assert "water" not in keys


def test_a_record_that_ends_before_it_begins_is_refused():
    content = {"keepout": "x", "lon": "1", "lat": "2", "answer": "clear", "seen": "y", "day": "2026-05-02"}
    read = read_looked({**content, "until": "2026-05-01"}, "2026-06-01")
    assert "ends before" in read.wrong["until"]
    assert read_looked({**content, "day": "2026-07-01"}, "2026-06-01").wrong["day"]
    assert read_looked({**content, "radius": "5 km"}, "2026-06-01").wrong["radius"]


def test_the_page_says_once_what_was_looked_for_and_keeps_everything_else():
    asked = topics(shipped_rules(), ())[:4]
    found = (OnSpot(asked[0], "clear", ""), *(OnSpot(topic, "open", "") for topic in asked[1:]))
    still = f"Nobody has yet looked on the spot for: {'; '.join(topic.title for topic in asked[1:])}. Look."
    clear, seen = f"{asked[0].title}: looked at and clear (dry).", f"{asked[1].title}: seen here (a lid)."
    forged = "Keep-out: looked at and clear (somebody named it so)."

    def shown(*reasons):
        return without_the_list(LandCheck("ask first", reasons, (), ()), found).reasons

    assert shown("No leave.", still, clear, seen, forged) == ("No leave.", seen, forged)
    assert shown(still, clear) == (
        "Nobody has yet looked on the spot for 3 things that no map shows: see the list below.",
    )
    assert shown(clear) == (clear,)
    assert without_the_list(LandCheck("go", (clear, still), (), ()), ()).reasons == (clear, still)
