"""What the commands about leave promise: words, exit codes, and that nobody is told to go by mistake."""

from __future__ import annotations

import json
import shutil
from datetime import date, timedelta
from pathlib import Path

import pytest

from prospect.cli import run
from prospect.store import Ground

TODAY = date.today()
LAND_KEYS = {
    "lon",
    "lat",
    "for",
    "headline",
    "verdict",
    "reasons",
    "parcels",
    "cautions",
    "setbacks",
    "not_for_others",
}
PARCEL_KEYS = {"parcel_id", "owner", "chance_inside", "line_distance_m"}
SETBACK_KEYS = {"confidence", "error_m", "own_m", "legal_m", "total_m", "sentence"}
PERMIT_KEYS = {"parcel", "status", "standing", "sentence", "cautions", "entry"}
LOOKED_KEYS = {"keepout", "standing", "until", "sentence", "entry"}
ON_THE_SPOT = ("well_or_septic", "unmarked_grave", "unstable_bank", "field_drains", "crops_and_season")
MAPS = ("keepouts", "water", "wetlands", "roads")


def answer(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> dict:
    capsys.readouterr()
    assert run([*(str(word) for word in words), "--json"]) == code
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return json.loads(out)


@pytest.fixture
def ground(small_ground: Path, tmp_path: Path) -> Path:
    """A copy of the small ground that a test may write to."""
    copy = tmp_path / "ground"
    shutil.copytree(small_ground, copy)
    return copy


@pytest.fixture
def middle(ground: Path) -> tuple[str, str]:
    """Longitude and latitude of the middle of parcel 001."""
    settings = Ground.open(ground).settings
    from pyproj import Transformer

    to_lonlat = Transformer.from_crs(settings.crs, "EPSG:4326", always_xy=True)
    lon, lat = to_lonlat.transform(settings.west + 600, settings.north - 750)
    return f"{lon:.7f}", f"{lat:.7f}"


def test_the_whole_way_from_asking_to_go(ground: Path, middle, capsys) -> None:
    soon = (TODAY + timedelta(days=20)).isoformat()
    check = answer(capsys, "land", ground, *middle)
    assert set(check) == LAND_KEYS
    assert set(check["parcels"][0]) == PARCEL_KEYS
    assert [set(one) for one in check["setbacks"]] == [SETBACK_KEYS] * 3
    assert check["verdict"] == "ask first"
    assert check["headline"].startswith("Ask first: ")
    asked = answer(capsys, "permit", ground, "001", "--status", "asked", "--person", "Mirel Ashdown")
    assert set(asked) == PERMIT_KEYS
    assert asked["standing"] == "asked"
    paper = ground.parent / "slip.pdf"
    paper.write_bytes(b"%PDF-1.4 a slip")
    granted = answer(
        capsys, "permit", ground, " 001 ", "--status", "granted", "--person", "mirel  ashdown",
        "--scope", "dig", "--depth-m", "1.2", "--until", soon, "--document", paper,
    )  # fmt: skip
    assert granted["parcel"] == "001"
    assert granted["standing"] == "granted"
    assert granted["entry"]["document"]
    for keepout in (*ON_THE_SPOT, *MAPS):
        seen = answer(capsys, "looked", ground, *middle, keepout, "--seen", "nothing of the kind")
        assert set(seen) == LOOKED_KEYS
        assert seen["standing"] == "clear"
    almost = answer(capsys, "land", ground, *middle)
    assert almost["verdict"] == "ask first"
    assert "utility lines" in almost["reasons"][0]
    without = answer(capsys, "looked", ground, *middle, "utility-lines", "--seen", "no marks anywhere")
    assert without["standing"] == "does not count"
    assert (
        without["sentence"]
        == "Utility lines: does not count: it has no ticket of the utility-location service."
    )
    ticket = answer(
        capsys, "looked", ground, *middle, "utility_lines", "--seen", "marks 40 m off", "--ticket", "A 4471"
    )
    assert ticket["standing"] == "clear"
    assert ticket["until"] == (TODAY + timedelta(days=14)).isoformat()
    go = answer(capsys, "land", ground, *middle)
    assert go["verdict"] == "go"
    assert go["headline"].startswith(
        f"Go: leave to dig on parcel 001 is on record until {soon}, hand tools only"
    )
    for more in (["--machine"], ["--depth-m", "1.3"], ["--for", "take"]):
        assert answer(capsys, "land", ground, *middle, *more)["verdict"] == "ask first"
    answer(
        capsys, "looked", ground, *middle, "unmarked_grave", "--seen", "fieldstones in a row", "--not-clear"
    )
    stop = answer(capsys, "land", ground, *middle)
    assert stop["headline"].startswith("Stay out: graves and old places: seen here (fieldstones in a row")
    assert run(["land", str(ground), *middle]) == 0
    assert capsys.readouterr().out.startswith("Stay out: ")


def test_what_makes_no_sense_is_refused_and_nothing_is_kept(ground: Path, middle, capsys) -> None:
    for words, said in (
        (["permit", ground, "01", "--status", "asked"], "Did you mean"),
        (["permit", ground, "001", "--status", "maybe"], "maybe"),
        (["permit", ground, "001", "--status", "granted", "--until", "2026-13-01"], "wants a date"),
        (["permit", ground, "001", "--status", "granted", "--until", "01.06.2026"], "wants a date"),
        (["permit", ground, "001", "--status", "granted", "--until", "2026-W10-1"], "wants a date"),
        (
            ["permit", ground, "001", "--status", "granted", "--from", "2026-06-01", "--until", "2026-05-01"],
            "is after",
        ),
        (["permit", ground, "001", "--status", "granted", "--depth-m", "-1"], "-1"),
        (["permit", ground, "001", "--status", "granted", "--depth-m", "nan"], "nan is no number"),
        (["permit", ground, " ", "--status", "asked"], "which parcel"),
        (["looked", ground, *middle, "utility_line", "--seen", "x"], "Did you mean utility_lines"),
        (["looked", ground, *middle, "septic_system", "--seen", " "], "what you saw"),
        (["looked", ground, *middle, "water", "--seen", "x", "--until", "2001-01-01"], "before the day"),
        (["looked", ground, *middle, "water", "--seen", "x", "--on", "2199-01-01"], "still to come"),
        (["looked", ground, "10", "50", "water", "--seen", "x"], "Longitude comes first"),
    ):
        assert run([str(word) for word in words]) == 2
        assert said in capsys.readouterr().err
    assert (
        run(["permit", str(ground), "001", "--status", "granted", "--document", str(ground / "no.pdf")]) != 0
    )
    assert Ground.open(ground).permissions() == ()
    assert Ground.open(ground).looked() == ()


def test_without_a_parcel_map_the_ledger_can_be_kept(tmp_path: Path, capsys) -> None:
    ground = tmp_path / "g"
    run(["new", str(ground), "--around", "-126.05,-47.55", "--radius-km", "2"])
    told = answer(capsys, "permit", ground, "77", "--status", "granted", "--scope", "walk")
    assert told["standing"] == "granted"
    check = answer(capsys, "land", ground, "-126.05", "-47.55", "--for", "walk")
    assert check["verdict"] == "unknown"
    assert check["headline"].startswith("Not known: whose ground this is is not known")
    assert check["setbacks"] == []


def test_a_parcel_that_left_the_map_is_reported(ground: Path, middle, small_files, capsys) -> None:
    answer(capsys, "permit", ground, "002", "--status", "granted", "--scope", "walk")
    run(["remove", str(ground), "parcels"])
    capsys.readouterr()
    answer_without = run(["permit", str(ground), "999", "--status", "asked"])
    assert answer_without == 0
    run(["add", str(ground), "parcels", str(small_files["parcels"])])
    capsys.readouterr()
    run(["land", str(ground), *middle])
    assert "not on the parcel map: 999" in capsys.readouterr().err


def test_a_rule_of_the_grounds_own_is_read_and_its_faults_are_named(ground: Path, middle, capsys) -> None:
    folder = ground / "keep-out-rules"
    folder.mkdir()
    (folder / "sump.toml").write_text(
        'key = "sump"\ntitle = "Old sump"\nlayer = "unmapped"\neffect = "stay out"\nscopes = ["auger", "dig", "take"]\n'
        'reason = "The yard drained here."\nreference = "own judgement"\n',
        encoding="utf-8",
    )
    check = answer(capsys, "land", ground, *middle)
    assert any("old sump" in reason for reason in check["reasons"])
    assert answer(capsys, "looked", ground, *middle, "sump", "--seen", "dry")["standing"] == "clear"
    (folder / "well.toml").write_text('key = "well"\ndistance_m = -3\nreference = ""\n', encoding="utf-8")
    assert run(["land", str(ground), *middle]) == 3
    said = capsys.readouterr().err
    assert "well.toml, distance_m" in said
    assert "well.toml, reference" in said


def test_own_setback_and_sureness_are_settings(ground: Path, middle, capsys) -> None:
    changed = answer(capsys, "set", ground, "own_setback_m=12.5", "sure_inside=0.99")["settings"]
    assert (changed["own_setback_m"], changed["sure_inside"]) == (12.5, 0.99)
    advice = answer(capsys, "land", ground, *middle)["setbacks"][1]
    assert advice["own_m"] == 12.5
    assert advice["total_m"] == pytest.approx(advice["error_m"] + 12.5, abs=2e-6)
    for wrong in ("own_setback_m=-1", "sure_inside=1", "sure_inside=0.2", "sure_inside="):
        assert run(["set", str(ground), wrong]) == 2


def test_what_runs_out_is_told_beside_the_answer(ground: Path, middle, capsys) -> None:
    soon = (TODAY + timedelta(days=3)).isoformat()
    answer(capsys, "permit", ground, "002", "--status", "granted", "--scope", "walk", "--until", soon)
    run(["land", str(ground), *middle])
    out, err = capsys.readouterr()
    assert f"Leave to walk on parcel 002 runs out in 3 days, on {soon}." in err
    assert soon not in out
