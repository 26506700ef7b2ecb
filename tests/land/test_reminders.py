"""What runs out, and what is on record for parcels that are not on the map."""

from __future__ import annotations

from prospect.land import reminders, unmatched_permissions
from prospect.records import Looked, Permission


def grant(parcel="007", **changes) -> Permission:
    return Permission(
        **{"parcel_id": parcel, "status": "granted", "scope": "dig", "recorded": "2026-01-01", **changes}
    )


def test_what_ends_soon_and_what_has_ended_is_told_oldest_first():
    permissions = [
        grant("1", valid_until="2026-06-10"),
        grant("2", valid_until="2026-12-31"),
        grant("3", valid_until="2026-04-30"),
        grant("4", valid_until="2026-05-21"),
        grant("5"),
    ]
    looked = [
        Looked("utility_lines", -126.05, -47.55, clear=True, seen_on="2026-05-10", ticket="4471"),
        Looked("unmarked_grave", -126.05, -47.55, clear=True, seen_on="2020-05-10"),
        Looked("field_drains", -126.05, -47.55, clear=True, seen_on="2026-05-01", until="2026-05-20"),
    ]
    assert reminders(permissions, looked, "2026-05-20") == (
        "Leave to dig on parcel 3 ran out on 2026-04-30.",
        "The record that the spot is clear (field drains and irrigation) at -126.05000, -47.55000 runs out today, on "
        "2026-05-20.",
        "Leave to dig on parcel 4 runs out tomorrow, on 2026-05-21.",
        "Utility ticket 4471 at -126.05000, -47.55000 runs out in 4 days, on 2026-05-24.",
        "Leave to dig on parcel 1 runs out in 21 days, on 2026-06-10.",
    )


def test_what_no_longer_speaks_is_not_told():
    renewed = [grant(valid_until="2026-05-01"), grant(valid_until="2027-05-01", recorded="2026-04-01")]
    assert reminders(renewed, [], "2026-05-20") == ()
    assert reminders([grant(valid_until="2026-05-01"), grant(status="refused")], [], "2026-05-20") == ()
    again = [
        Looked("utility_lines", 1.0, 2.0, clear=True, seen_on="2026-04-01", ticket="1"),
        Looked("utility_lines", 1.0, 2.0, clear=True, seen_on="2026-05-19", ticket="2"),
    ]
    assert reminders([], again, "2026-05-20", within_days=3) == ()


def test_leave_for_a_parcel_that_is_not_on_the_map_is_reported(parcels):
    assert unmatched_permissions([grant("007"), grant(" 008 "), grant("9"), grant("9")], parcels) == ("9",)
    assert unmatched_permissions([grant("9")], None) == ()
