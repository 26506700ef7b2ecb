"""The command contract: words, exit codes, one JSON object with the promised keys, never a traceback."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from prospect.cli import claywalk, run
from prospect.definitions import layers_folder

SITE_KEYS = {
    "site",
    "deposit",
    "favourability",
    "completeness",
    "area_ha",
    "lon",
    "lat",
    "rock",
    "slope_pct",
    "height_above_drainage_m",
    "parcels",
    "permission",
    "cautions",
}
CHECK_KEYS = {"file", "kind", "verdict", "read", "kept", "repaired", "refused", "problems"}
PROBLEM_KEYS = {"severity", "place", "field", "value", "expected", "action"}


def answer(capsys: pytest.CaptureFixture[str], *words: object, code: int = 0) -> dict:
    capsys.readouterr()
    assert run([*(str(word) for word in words), "--json"]) == code
    out, err = capsys.readouterr()
    assert "Traceback" not in err
    return json.loads(out)


def spot(ground: Path, capsys: pytest.CaptureFixture[str]) -> tuple[str, str]:
    first = answer(capsys, "sites", ground, "--top", 1)["sites"][0]
    return str(first["lon"]), str(first["lat"])


@pytest.mark.parametrize("name", sorted(claywalk.commands))
def test_every_command_has_help(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run([name, "--help"]) == 0
    assert "Usage: claywalk" in capsys.readouterr().out


def test_new_takes_an_area_with_a_leading_minus(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    settings = answer(capsys, "new", tmp_path / "a", "--bbox", "-126.1,-47.6,-126.0,-47.5")["settings"]
    assert settings["crs"] == "EPSG:32709"
    assert settings["area_set_by"] == "you"
    around = answer(capsys, "new", tmp_path / "b", "--around", "-126.05,-47.55", "--radius-km", 2)["settings"]
    assert around["east"] - around["west"] == pytest.approx(4000)
    assert run(["new", str(tmp_path / "a")]) == 4
    assert run(["new", str(tmp_path / "c"), "--bbox", "1,2,3"]) == 2
    assert run(["new", str(tmp_path / "c"), "--bbox", "5,50,4,51"]) == 2
    assert not (tmp_path / "c").exists()


def test_set_lists_and_changes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    run(["new", str(tmp_path / "g")])
    changed = answer(capsys, "set", tmp_path / "g", "mean_annual_rain_mm=900", "glaciated=no")["settings"]
    assert (changed["mean_annual_rain_mm"], changed["glaciated"]) == (900.0, "no")
    assert answer(capsys, "set", tmp_path / "g")["settings"]["mean_annual_rain_mm"] == 900.0
    for wrong in ("rain=900", "glaciated=perhaps", "reach_m=", "cell_m=0.1", "cell_m"):
        assert run(["set", str(tmp_path / "g"), wrong]) == 2
        assert "Traceback" not in capsys.readouterr().err


def test_check_says_what_it_would_keep(
    small_files: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    found = answer(capsys, "check", "samples", small_files["samples"])
    assert set(found) == CHECK_KEYS
    assert (found["read"], found["kept"] + found["repaired"], found["refused"]) == (3, 2, 1)
    assert found["verdict"] == "accepted with notes"
    (problem,) = [item for item in found["problems"] if item["severity"] == "error"]
    assert set(problem) == PROBLEM_KEYS
    assert "north" in problem["value"]
    wrong = answer(capsys, "check", "elevation", small_files["samples"], code=3)
    assert wrong["verdict"] == "refused"
    assert wrong["problems"]


def test_adding_the_same_samples_twice_keeps_one_of_each(
    small_files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ground = tmp_path / "g"
    run(["new", str(ground)])
    for _ in range(2):
        added = answer(capsys, "add", ground, "samples", small_files["samples"])
    assert "2 were on record already, word for word." in added["notes"]


def test_layers_says_what_is_missing(small_ground: Path, capsys: pytest.CaptureFixture[str]) -> None:
    layers = {row["kind"]: row for row in answer(capsys, "layers", small_ground)["layers"]}
    assert layers["elevation"]["present"]
    assert not layers["soil"]["present"]
    assert layers["soil"]["costs"]
    assert layers["soil"]["where"]


def test_rocks_shows_and_keeps_readings(
    small_files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ground = tmp_path / "g"
    run(["new", str(ground)])
    run(["add", str(ground), "geology", str(small_files["geology"])])
    rows = {row["unit"]: row for row in answer(capsys, "rocks", ground)["rocks"]}
    assert "granite" in rows["Kg"]["read_as"]
    again = answer(capsys, "rocks", ground, "--set", "Kg=basalt:1.0")["rocks"]
    (corrected,) = [row for row in again if row["unit"] == "Kg"]
    assert corrected["corrected"]
    assert corrected["residual_fitness"] < rows["Kg"]["residual_fitness"]
    assert run(["rocks", str(ground), "--set", "Xx=basalt:1.0"]) == 2
    assert "Qal" in capsys.readouterr().err


def test_score_summarises_each_model(small_ground: Path, capsys: pytest.CaptureFixture[str]) -> None:
    scored = answer(capsys, "score", small_ground)
    assert {"purpose", "cell_m", "cells", "folder", "completeness", "deposits", "missing"} == set(scored)
    keys = [row["deposit"] for row in scored["deposits"]]
    assert keys[0] == "residual"
    assert len(keys) == 7
    assert (Path(scored["folder"]) / "favourability-best.tif").is_file()
    one = answer(capsys, "score", small_ground, "--deposit", "residual")
    assert [row["deposit"] for row in one["deposits"]] == ["residual"]
    assert run(["score", str(small_ground), "--deposit", "nowhere"]) == 2


def test_sites_have_the_promised_words(
    small_ground: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "sites.geojson"
    sites = answer(capsys, "sites", small_ground, "--top", 3, "--out", out)["sites"]
    assert 1 <= len(sites) <= 3
    assert set(sites[0]) == SITE_KEYS
    worth = [site["favourability"] for site in sites]
    assert worth == sorted(worth, reverse=True)
    assert len(json.loads(out.read_text())["features"]) == len(sites)


def test_why_takes_the_spot_apart(small_ground: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lon, lat = spot(small_ground, capsys)
    report = answer(capsys, "why", small_ground, lon, lat)
    assert report["lead"]["deposit"] == report["models"][0]["deposit"]
    shares = [
        item["share"]
        for item in report["lead"]["criteria"]
        if item["level"] == 0 and item["share"] is not None
    ]
    assert sum(shares) == pytest.approx(1.0, abs=1e-6)
    assert all(item["source"] for item in report["lead"]["criteria"] if item["membership"] is not None)
    assert run(["why", str(small_ground), "10", "50"]) == 2
    assert "Longitude comes first" in capsys.readouterr().err


def test_land_without_leave_is_never_go(small_ground: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lon, lat = spot(small_ground, capsys)
    check = answer(capsys, "land", small_ground, lon, lat, "--for", "auger")
    assert check["verdict"] in ("ask first", "stay out", "unknown")
    assert check["parcels"][0]["chance_inside"] > 0.5
    assert any("utility" in caution for caution in check["cautions"])


def test_probe_equals_why(
    small_ground: Path, small_files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out = tmp_path / "probe.csv"
    told = answer(capsys, "probe", small_ground, small_files["points"], "--out", out)
    assert (told["points"], told["with_a_score"]) == (2, 1)
    head, here, far = (line.split(",") for line in out.read_text().splitlines())
    assert head[:9] == [
        "id",
        "lon",
        "lat",
        "deposit",
        "favourability",
        "completeness",
        "chance",
        "chance_low",
        "chance_high",
    ]
    assert len(head) == 9 + 7
    report = answer(capsys, "why", small_ground, here[1], here[2])
    assert float(here[4]) == pytest.approx(report["lead"]["favourability"], abs=1e-5)
    assert far[3:] == [""] * 13


def test_share_leaves_out_what_the_audience_may_not_see(
    small_ground: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    told = answer(capsys, "share", small_ground, "--to", tmp_path / "map.html")
    assert {"file", "for", "product", "sites", "spots", "left_out", "notes"} == set(told)
    assert told["left_out"]
    public = (tmp_path / "map.html").read_bytes()
    for secret in (b"Mirel", b"Ashdown", b"Brandle", b"Quill", b"quivering"):
        assert secret not in public
    own = answer(capsys, "share", small_ground, "--to", tmp_path / "own.html", "--for", "self")
    assert own["left_out"] == []
    assert run(["share", str(small_ground), "--to", str(tmp_path / "map.docx")]) == 2
    assert run(["share", str(small_ground), "--to", str(tmp_path / "m.html"), "--for", "everyone"]) == 2
    assert run(["share", str(small_ground), "--to", str(tmp_path / "no" / "m.html")]) == 4


def test_a_ground_with_nothing_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ground = tmp_path / "g"
    run(["new", str(ground)])
    capsys.readouterr()
    assert run(["score", str(ground)]) == 4
    assert "no elevation, no geology and no soil" in capsys.readouterr().err
    assert run(["sites", str(tmp_path / "nowhere")]) == 4
    assert "claywalk new" in capsys.readouterr().err


def test_remove_takes_a_layer_and_never_records(
    small_files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ground = tmp_path / "g"
    run(["new", str(ground)])
    run(["add", str(ground), "elevation", str(small_files["elevation"])])
    assert answer(capsys, "remove", ground, "elevation") == {"removed": "elevation"}
    assert run(["remove", str(ground), "elevation"]) == 4
    assert run(["remove", str(ground), "samples"]) == 2


def test_a_file_from_elsewhere_is_refused_and_changes_nothing(
    small_files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    ground = tmp_path / "g"
    run(["new", str(ground), "--bbox", "10,50,10.1,50.1"])
    for kind in ("elevation", "geology", "parcels"):
        told = answer(capsys, "add", ground, kind, small_files[kind], code=3)
        assert told["verdict"] == "refused"
        assert told["problems"]
    assert not list((ground / "layers").glob("*")) if (ground / "layers").exists() else True


def test_doctor_finds_the_ground_well(small_ground: Path, capsys: pytest.CaptureFixture[str]) -> None:
    told = answer(capsys, "doctor", small_ground)
    assert told["well"]
    assert {row["what"] for row in told["checks"]} == {"library", "drivers", "disk", "ground"}


def test_a_model_of_the_users_own_is_checked_and_run(
    small_ground: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shipped = (layers_folder() / "models" / "residual.toml").read_text(encoding="utf-8")
    mine = tmp_path / "mine.toml"
    mine.write_text(shipped.replace('key = "residual"', 'key = "my_residual"', 1), encoding="utf-8")
    assert answer(capsys, "check", "deposit", mine)["verdict"] == "accepted"
    scored = answer(capsys, "score", small_ground, "--deposit", "mudrock", "--model", mine)
    rows = {row["deposit"]: row for row in scored["deposits"]}
    assert list(rows) == ["mudrock", "my_residual"]
    assert rows["my_residual"]["best"] > rows["mudrock"]["best"]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("weight = 0.15", "weight = 0.25", "criteria"),
        ("weight = 0.15", "weight = -0.15", "weight"),
        ("weight = 0.15", "weight = nan", "weight"),
        ('key = "residual"', 'key = "residual"\ncolour = "red"', "colour"),
        ('key = "residual"', "key =", "line "),
    ],
)
def test_a_faulty_model_is_refused_with_the_key_path(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, place: str
) -> None:
    shipped = (layers_folder() / "models" / "residual.toml").read_text(encoding="utf-8")
    mine = tmp_path / "mine.toml"
    mine.write_text(shipped.replace(old, new, 1), encoding="utf-8")
    told = answer(capsys, "check", "deposit", mine, code=3)
    assert told["verdict"] == "refused"
    assert any(place in f"{problem['place']} {problem['value']}" for problem in told["problems"])


def test_a_command_holds_the_ground_and_lets_it_go(small_ground: Path, tmp_path: Path, capsys) -> None:
    folder = tmp_path / "held"
    shutil.copytree(small_ground, folder)
    lock = folder / "records.lock"
    assert run(["set", str(folder), "purpose=brick"]) == 0
    assert not lock.exists()
    lock.write_text(json.dumps({"host": "the other laptop", "user": "Tov", "pid": 3, "since": "2031-01-01"}))
    capsys.readouterr()
    for command in (
        ["set", "purpose=any"],
        ["log", str(tmp_path / "none.csv")],
        ["remove", "geology"],
        ["rocks", "--set", "Kg=granite:1"],
        ["permit", "001", "--status", "asked"],
        ["looked", "-129.0", "-47.5", "utility_lines", "--seen", "nothing"],
        ["undo"],
    ):
        assert run([command[0], str(folder), *command[1:]]) == 4, command
        assert "open already: Tov on the other laptop" in capsys.readouterr().err
    assert run(["sites", str(folder), "--top", "1"]) == 0
    assert "looking only" in capsys.readouterr().err
    lock.unlink()
    assert run(["undo", str(folder)]) == 0
    assert "Taken back: change" in capsys.readouterr().out
