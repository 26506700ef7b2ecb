"""Rule files: what is shipped, what a ground may change, and how faults are named."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from prospect.errors import DefinitionError
from prospect.land import ground_rules, load_rule, load_rules, shipped_rules


def test_faults_in_a_rule_file_are_named(tmp_path):
    path = tmp_path / "odd.toml"
    path.write_text('key = "odd"\ntitle = "Odd"\nlayer = "sky"\neffect = "stay out"\nreach = 3\n', "utf-8")
    with pytest.raises(DefinitionError) as caught:
        load_rule(path)
    places = {issue.place for issue in caught.value.issues}
    assert {"layer", "reach", "reason", "reference", "scopes"} <= places


def test_a_negative_distance_is_refused(tmp_path):
    text = (
        'key = "odd"\ntitle = "Odd"\nlayer = "water"\neffect = "stay out"\nscopes = ["dig"]\n'
        'reason = "Because."\nreference = "own judgement"\ndistance_m = -1\n'
    )
    (tmp_path / "odd.toml").write_text(text, "utf-8")
    with pytest.raises(DefinitionError, match="distance_m"):
        load_rules(tmp_path)


OWN = (
    'key = "sump"\ntitle = "Old sump"\nlayer = "keepouts"\neffect = "stay out"\nscopes = ["dig", "take"]\n'
    'kinds = ["sump"]\ndistance_m = 12.0\nreason = "The yard drained here."\nreference = "own judgement"\n'
)


def test_a_ground_changes_and_adds_rules(tmp_path):
    (tmp_path / "sump.toml").write_text(OWN, "utf-8")
    (tmp_path / "well.toml").write_text(
        'key = "well"\ndistance_m = 60.0\nreference = "county well code, section 4"\n', "utf-8"
    )
    rules = {rule.key: rule for rule in ground_rules(tmp_path)}
    shipped = {rule.key: rule for rule in shipped_rules()}
    assert set(rules) == {*shipped, "sump"}
    assert (rules["well"].distance_m, rules["well"].reference) == (60.0, "county well code, section 4")
    assert (rules["well"].reason, rules["well"].kinds) == (shipped["well"].reason, shipped["well"].kinds)
    assert all(rules[key] == rule for key, rule in shipped.items() if key != "well")


def test_without_a_folder_the_shipped_rules_hold(tmp_path):
    assert ground_rules(tmp_path / "nowhere") == shipped_rules()


@pytest.mark.parametrize(
    ("text", "place"),
    [
        ('key = "well"\ndistance_m = 60.0\n', "reference"),
        ('key = "well"\neffect = "no matter"\nreference = "own judgement"\n', "effect"),
        ('key = "utility_lines"\neffect = "no matter"\nreference = "own judgement"\n', "effect"),
        ('key = "well"\nscopes = ["take"]\nreference = "own judgement"\n', "scopes"),
        ('key = "utility_lines"\nlayer = "keepouts"\nreference = "own judgement"\n', "layer"),
        ('key = "utility_lines"\nneeds_ticket = false\nreference = "own judgement"\n', "needs_ticket"),
        ('key = "open_water"\nkinds = ["zzz"]\nreference = "own judgement"\n', "kinds"),
        ('key = "open_water"\nkinds = []\nreference = "own judgement"\n', "kinds"),
        ('key = "well"\ndistance_m = "far"\nreference = "own judgement"\n', "distance_m"),
        ('key = "well"\ncolour = "red"\nreference = "own judgement"\n', "colour"),
        ('key = "unmarked_grave"\nlasts_days = 0\nreference = "own judgement"\n', "lasts_days"),
        (OWN.replace('"sump"\ntitle', '"Sump!"\ntitle'), "key"),
        (OWN.replace('"sump"\ntitle', '"water"\ntitle'), "key"),
        (OWN.replace("12.0", "nan"), "distance_m"),
        (OWN.replace('["sump"]', '["sump", "-"]'), "kinds"),
        ("distance_m = 3\n", "key"),
    ],
)
def test_faults_of_a_grounds_own_rules_name_file_and_key(tmp_path, text, place):
    (tmp_path / "mine.toml").write_text(text, "utf-8")
    with pytest.raises(DefinitionError) as caught:
        ground_rules(tmp_path)
    assert ("mine.toml", place) in {(issue.file, issue.place) for issue in caught.value.issues}


@pytest.mark.parametrize("key", ["own_keep_out", "streambank", "wetland", "roadside"])
def test_a_rule_for_all_that_no_other_speaks_for_gets_no_words(tmp_path, key):
    (tmp_path / "mine.toml").write_text(f'key = "{key}"\nkinds = ["zzz"]\nreference = "x"\n', "utf-8")
    with pytest.raises(DefinitionError, match=r"mine\.toml, kinds: found 'zzz', expected no words"):
        ground_rules(tmp_path)


def test_all_files_tell_their_faults_at_once(tmp_path):
    for name in ("a", "b"):
        (tmp_path / f"{name}.toml").write_text('key = "well"\ndistance_m = -1\nreference = "x"\n', "utf-8")
    with pytest.raises(DefinitionError) as caught:
        ground_rules(tmp_path)
    assert {issue.file for issue in caught.value.issues} == {"a.toml", "b.toml"}


def test_two_own_files_with_one_key_are_a_fault(tmp_path):
    for name in ("a", "b"):
        (tmp_path / f"{name}.toml").write_text(OWN, "utf-8")
    with pytest.raises(DefinitionError, match=r"b\.toml, key"):
        ground_rules(tmp_path)


def test_a_file_that_is_no_toml_is_named(tmp_path):
    (tmp_path / "odd.toml").write_text("key =", "utf-8")
    with pytest.raises(DefinitionError, match=r"odd\.toml"):
        ground_rules(tmp_path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no pipes with names here")
def test_a_pipe_and_a_file_too_large_among_the_rules_are_refused(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "odd.toml")
    with pytest.raises(DefinitionError, match="no plain file"):
        load_rules(tmp_path)
    (tmp_path / "odd.toml").unlink()
    (tmp_path / "odd.toml").write_text(f'a = "{"x" * 2_000_000}"', "utf-8")
    with pytest.raises(DefinitionError, match="more than 2 MB"):
        load_rules(tmp_path)


@pytest.mark.parametrize(
    ("word", "kind"),
    [
        ("Black-Fen", "black fen"),
        ("sacred_grove", "Sacred  Grove"),
        ("cimeti\u00e8re", "Cimetie\u0300re"),
    ],
)
def test_words_of_a_grounds_own_rules_are_found_however_they_are_written(
    tmp_path: Path, word: str, kind: str
) -> None:
    text = OWN.replace('["sump"]', f'["{word}"]')
    assert word in text
    (tmp_path / "mine.TOML").write_text(text, "utf-8")
    assert next(rule for rule in ground_rules(tmp_path) if rule.key == "sump").speaks_for(kind)
