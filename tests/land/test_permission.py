"""The ledger: who speaks for a parcel, and what leave is worth for what is to be done on a day."""

from __future__ import annotations

import pytest

from prospect.errors import WrongUsage
from prospect.land import Intent, permission_word, standing
from prospect.land.permission import MINERAL, PUBLIC, SHARED, TENANT, looks_public, named_owners
from prospect.records import Permission


def entry(status="granted", **changes) -> Permission:
    scope = "dig" if status == "granted" else None
    return Permission(
        **{"parcel_id": "007", "status": status, "scope": scope, "recorded": "2026-01-01", **changes}
    )


def word(*entries, intent="dig", on="2026-05-20", owners=()):
    return standing(entries, "007", intent, on, owners).word


@pytest.mark.parametrize(
    ("changes", "scope", "on", "expected"),
    [
        ({}, "dig", "", "granted"),
        ({}, "walk", "", "granted"),
        ({}, "take", "", "not for this"),
        ({"scope": None}, "look", "", "not for this"),
        ({"valid_until": "2026-06-30"}, "dig", "2026-06-30", "granted"),
        ({"valid_until": "2026-06-30"}, "dig", "2026-07-01", "run out"),
        ({"valid_until": "2026-06-30"}, "dig", "", "run out"),
        ({"valid_from": "2026-06-01"}, "dig", "2026-05-31", "run out"),
        ({"valid_until": "end of June"}, "dig", "2026-05-31", "run out"),
        ({"valid_until": "2026-6-30"}, "dig", "2026-05-31", "run out"),
        ({"valid_from": "2026-07-01", "valid_until": "2026-06-01"}, "dig", "2026-06-15", "run out"),
        ({"status": "asked"}, "dig", "", "asked"),
        ({"status": "refused"}, "look", "", "refused"),
        ({"status": "withdrawn"}, "look", "", "withdrawn"),
        ({"status": "do-not-ask"}, "look", "", "do not ask"),
    ],
)
def test_what_a_grant_is_worth(changes, scope, on, expected):
    assert word(entry(**changes), intent=scope, on=on) == expected


@pytest.mark.parametrize(
    ("changes", "intent", "expected"),
    [
        ({}, Intent("dig", machine=True), "not for this"),
        ({"machine": True}, Intent("dig", machine=True), "granted"),
        ({"depth_m": 1.0}, Intent("dig", depth_m=1.0), "granted"),
        ({"depth_m": 1.0}, Intent("dig", depth_m=1.1), "not for this"),
        ({}, Intent("dig", depth_m=9.0), "granted"),
        ({"volume_m3": 0.5}, Intent("dig", volume_m3=0.6), "not for this"),
        ({"scope": "take", "amount_kg": 50.0}, Intent("take", amount_kg=51.0), "not for this"),
        ({"scope": "take", "amount_kg": 50.0}, Intent("take", amount_kg=50.0), "granted"),
        ({"scope": "take"}, Intent("take", sells=True), "not for this"),
        ({"scope": "take", "may_sell": True}, Intent("take", sells=True), "granted"),
    ],
)
def test_what_is_to_be_done_is_held_against_the_grant(changes, intent, expected):
    assert word(entry(**changes), intent=intent) == expected


@pytest.mark.parametrize("last", ["2026-W10-1", "20260302", "2026-3-2", "2026-02-30"])
def test_a_day_that_does_not_sort_among_days_is_no_end(last):
    # 2026-W10-1 is 2 March 2026 (ISO 8601, week dates), long past on the day of the visit.
    assert word(entry(valid_until=last), on="2026-05-20") == "run out"


def test_limits_are_told_even_when_the_size_was_not():
    said = standing(
        [entry(scope="take", depth_m=1.2, amount_kg=40, conditions="Close the gate.")], "007", "take", ""
    )
    assert said.may_go
    assert said.sentence == (
        "Leave to take on parcel 007 is on record, hand tools only, no deeper than 1.2 m, no more than 40 kg to take, "
        "not for sale, on these terms: Close the gate."
    )


def test_each_persons_latest_answer_speaks():
    ledger = [entry(recorded="2026-03-01"), entry("withdrawn", recorded="2026-04-01")]
    assert word(*ledger) == word(*ledger[::-1]) == "withdrawn"
    assert word(*ledger, entry(recorded="2026-05-01")) == "granted"
    assert word(entry(person="Ann"), entry("refused", person="Bo")) == "refused"
    assert word(entry("refused", person="Bo"), entry(person="Ann", recorded="2026-09-09")) == "refused"
    assert word(entry("refused", person="Bo"), entry(person=" BO ", recorded="2026-02-02")) == "granted"
    assert "does not lift it" in standing([entry("refused"), entry(person="Ann")], "007", "dig", "").sentence


def test_entries_of_the_same_moment_count_in_order():
    assert word(entry(), entry("refused")) == "refused"
    assert word(entry("refused"), entry()) == "granted"


def test_a_question_after_an_answer_changes_nothing():
    later = {"recorded": "2026-04-01"}
    assert word(entry(person="Ann"), entry("asked", person="Ann", scope="take", **later)) == "granted"
    assert word(entry(person="Ann"), entry("asked", person="Ann", scope="walk", **later)) == "granted"
    assert word(entry("refused", person="Ann"), entry("asked", person="Ann", **later)) == "refused"
    assert word(entry(person="Ann"), entry("asked", **later)) == "granted"
    assert word(entry("asked"), entry(person="Ann", **later)) == "granted"


def test_a_named_person_who_has_not_answered_keeps_the_question_open():
    assert word(entry(person="Ann"), entry("asked", person="Bo")) == "asked"


def test_only_the_owner_can_give_leave():
    tenant = entry(person="Tam", speaks_as="tenant")
    said = standing([tenant], "007", "dig", "")
    assert (said.word, said.may_go) == ("not the owner", False)
    assert TENANT in said.cautions
    assert word(tenant, entry(person="Ann", speaks_as="owner")) == "granted"
    assert word(entry("refused", person="Tam", speaks_as="tenant"), entry(person="Ann")) == "refused"
    for role in (
        "neighbour",
        "the owner's son",
        "not the owner",
        "former owner",
        "holder of the mineral right",
    ):
        assert word(entry(speaks_as=role)) == "not the owner"
    for role in ("Owner", "landowner", "agency", "executor", ""):
        assert word(entry(speaks_as=role)) == "granted"


@pytest.mark.parametrize("role", ["co-owner", "joint owner", "part owner", "one of the owners"])
def test_who_speaks_as_one_of_several_owners_is_not_alone(role):
    one, other = entry(person="Ann", speaks_as=role), entry(person="Bo", speaks_as="owner")
    assert word(one) == word(one, owners=("Ann",)) == "not all owners"
    assert word(one, other) == "granted"
    assert word(one, entry(person="Cai", speaks_as="all owners")) == "granted"


def test_shared_ground_needs_every_owner():
    owners = ("Wenna Marl", "Tobit Marl")
    said = standing([entry(person="Wenna Marl")], "007", "dig", "", owners)
    assert said.word == "not all owners"
    assert said.sentence.startswith("1 of 2 owners of parcel 007 gave leave")
    assert "Tobit" not in said.sentence
    assert SHARED in said.cautions
    assert word(entry(person="Wenna Marl"), entry(person="Tobit Marl"), owners=owners) == "granted"
    assert word(entry(person="Wenna Marl"), entry(), owners=owners) == "not all owners"
    assert word(entry(person="Wenna Marl", speaks_as="all owners"), owners=owners) == "granted"
    assert word(entry(person="Wenna Marl"), owners=("Wenna Marl and Tobit Marl",)) == "not all owners"
    late = entry(person="Tobit Marl", valid_until="2026-01-31")
    assert word(entry(person="Wenna Marl"), late, owners=owners) == "not all owners"


def test_the_narrowest_grant_decides():
    assert word(entry(person="Ann"), entry(person="Bo", scope="walk")) == "not for this"
    wide = entry(person="Ann", depth_m=2.0, valid_until="2026-12-31")
    narrow = entry(person="Bo", depth_m=1.0, valid_until="2026-06-30")
    said = standing([wide, narrow], "007", "dig", "2026-05-20")
    assert said.until == "2026-06-30"
    assert "no deeper than 1 m" in said.sentence


@pytest.mark.parametrize(
    ("owner", "count"),
    [
        ("Ilsa Quern", 1),
        ("Ilsa Quern and Jo Quern", 2),
        ("Quern & Marl", 2),
        ("A; B; C", 3),
        ("Marl Sand and Gravel LLC", 1),
        ("Quern Family Trust", 1),
        ("Sandra Anders", 1),
        ("", 0),
        ("Ilsa Quern et al", 2),
        ("QUERN ILSA ETUX", 2),
        ("Quern Ilsa / Marl Jo", 2),
        ("Ilsa&Jo Quern", 2),
        ("Ilsa Quern\nJo Quern", 2),
        ("Ilsa Quern und Jo Quern", 2),
        ("Ilsa Quern, Jo Quern", 2),
        ("Quern, Ilsa", 1),
        ("Quern, Ilsa Maria", 1),
        ("City of Tesk, Office of Parks", 1),
        ("Ilsa Quern et.al.", 2),
        ("Ilsa Quern (et al)", 2),
        ("Ilsa Quern y Jo Quern", 2),
        ("Ilsa Quern or Jo Quern", 2),
        ("Ilsa Quern u. Jo Quern", 2),
        ("Ilsa Quern | Jo Quern", 2),
        ("Ilsa Quern - Jo Quern", 2),
        ("Ilsa Quern ＆ Jo Quern", 2),
        ("Heirs of Ilsa Quern", 2),
        ("Ilsa E Quern", 1),
        ("Ilsa Quern-Marl", 1),
    ],
)
def test_counting_owners(owner, count):
    assert named_owners([owner]) == count


def test_public_owners_and_mineral_rights_get_their_caution():
    assert looks_public("TESK COUNTY")
    assert looks_public("Department of Forests")
    assert looks_public("U.S.A.")
    assert not looks_public("Ilsa Quern")
    assert not looks_public("Countyman, Jo")
    said = standing([], "007", "take", "", ("Tesk County",))
    assert {PUBLIC, MINERAL} <= set(said.cautions)


def test_identifiers_match_exactly_but_for_blanks():
    assert standing([entry(parcel_id=" 007 ")], "007", "dig", "").word == "granted"
    assert standing([entry(parcel_id="0070")], "007", "look", "").word == "not asked"
    assert standing([entry(parcel_id="7")], "007", "look", "").word == "not asked"
    assert standing([entry(parcel_id="")], "", "look", "").word == "not asked"


def test_one_word_for_several_parcels():
    ledger = [entry(parcel_id="1"), entry("asked", parcel_id="2"), entry("refused", parcel_id="3")]
    assert permission_word(ledger, ["1"], "dig", "") == "granted"
    assert permission_word(ledger, ["1", "2"], "dig", "") == "asked"
    assert permission_word(ledger, ["1", "2", "3"], "dig", "") == "refused"
    assert permission_word(ledger, [], "dig", "") == "not asked"
    assert permission_word(ledger, ["1"], "dig", "", {"1": ("Ann", "Bo")}) == "not all owners"


@pytest.mark.parametrize("wrong", [{"scope": "fly"}, {"depth_m": -1.0}, {"amount_kg": float("nan")}])
def test_an_intent_that_makes_no_sense(wrong):
    with pytest.raises(WrongUsage):
        Intent(**wrong)


@pytest.mark.parametrize(
    "again", ["Quern, Ilsa", "ILSA  QUERN", "Ílsa Quern", "I. Quern", "Ilsa", "Mrs Ilsa Quern"]
)
def test_one_person_written_in_two_ways_is_no_second_owner(again):
    both = ("Ilsa Quern", "Jo Quern")
    twice = entry(person="Ilsa Quern"), entry(person=again)
    assert word(*twice, owners=both) == "not all owners"
    assert word(*twice, entry(person="Jo Quern"), owners=both) == "granted"


@pytest.mark.parametrize("status", ["refused", "withdrawn", "do-not-ask"])
def test_leave_of_an_owner_does_not_lift_what_a_tenant_without_a_name_refused(status):
    said = word(
        entry(status, speaks_as="tenant", scope=None), entry(speaks_as="owner", recorded="2026-05-02")
    )
    assert said == status.replace("-", " ")


def test_where_the_map_names_nobody_leave_of_another_owner_that_ran_out_is_missed():
    ended = entry(person="Jo Quern", valid_until="2026-02-01")
    assert word(ended, entry(person="Ilsa Quern")) == "not all owners"
    assert word(ended, entry(person="Ilsa Quern"), owners=("Ilsa Quern",)) == "granted"
    assert word(ended, entry(person="Ilsa Quern", speaks_as="all owners")) == "granted"


def test_a_limit_that_is_no_number_allows_nothing():
    assert word(entry(depth_m=float("nan")), intent=Intent("dig", depth_m=0.5)) == "not for this"


@pytest.mark.parametrize("name", ["1.23457E+12", "1,23457e+12", "1E+12"])
def test_leave_for_a_number_that_a_spreadsheet_cut_short_is_leave_for_nothing(name):
    leave, no = entry(parcel_id=name), entry("refused", parcel_id=name)
    assert standing([leave], name, "dig", "").word == "not asked"
    assert standing([no], name, "dig", "").word == "refused"


@pytest.mark.parametrize("name", ["A-12", "a-12\u200b", "ａ-12", "a-１２"])
def test_a_refusal_is_found_however_the_parcel_was_written_and_leave_is_not(name):
    leave, no = entry(parcel_id="a-12"), entry("refused", person="Jo", parcel_id=name)
    assert standing([leave, no], "a-12", "dig", "").word == "refused"
    assert standing([entry(parcel_id=name)], "a-12", "dig", "").word == "not asked"
    assert standing([entry("refused", parcel_id="1 23")], "12 3", "dig", "").word == "not asked"


def test_an_owner_who_is_not_named_beside_one_who_is_has_a_say():
    one = entry(person="Ilsa Quern")
    assert word(one, owners=("Ilsa Quern", " ")) == "not all owners"
    assert word(entry(person="Ilsa Quern", speaks_as="all owners"), owners=("Ilsa Quern", "")) == "granted"
    assert word(one, owners=("",)) == "granted"
