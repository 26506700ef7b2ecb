"""Soil survey exports: tables missing, cut, mislabelled, with numbers and keys that cannot be."""

from __future__ import annotations

import zipfile
from collections.abc import Callable
from pathlib import Path

import geopandas as gpd
import pyogrio
from controls import make_control, soil_export, write_table
from shapely.geometry import box

from corpus.case import Build, Case, Verdict

Change = Callable[[Path], object]


def export(change: Change | None = None, *, zipped: bool = False) -> Build:
    """Return what writes an export, changes it, and packs it when asked."""

    def build(folder: Path) -> Path:
        root = folder / "ZZ001"
        soil_export(root)
        if change is not None:
            change(root)
        if not zipped:
            return root
        with zipfile.ZipFile(folder / "soil.zip", "w", zipfile.ZIP_DEFLATED) as archive:
            for part in sorted(root.rglob("*")):
                archive.write(part, part.relative_to(folder))
        return folder / "soil.zip"

    return build


def table(root: Path, name: str) -> Path:
    return next(
        (root / "tabular").glob(
            {"component": "comp.txt", "chorizon": "chorizon.txt", "mapunit": "mapunit.txt"}[name]
        )
    )


def replaced(name: str, old: str, new: str) -> Build:
    def change(root: Path) -> None:
        path = table(root, name)
        text = path.read_text(encoding="utf-8")
        assert old in text, f"{old} is not in {name}"
        path.write_text(text.replace(old, new, 1), encoding="utf-8")

    return export(change)


def bytes_of(name: str, change: Callable[[bytes], bytes]) -> Build:
    def edit(root: Path) -> None:
        path = table(root, name)
        path.write_bytes(change(path.read_bytes()))

    return export(edit)


def horizon(**given: object) -> Build:
    """Return an export with one more horizon under component 101."""
    row = {
        "hzname": "C",
        "hzdept_r": 90,
        "hzdepb_r": 150,
        "claytotal_r": 30,
        "cokey": "101",
        "chkey": "9",
    } | given
    return export(lambda root: _append(root, "chorizon", row))


def component(**given: object) -> Build:
    row = {"comppct_r": 5, "compname": "Dee", "mukey": "12", "cokey": "104", "majcompflag": "No"} | given
    return export(lambda root: _append(root, "component", row))


def _append(root: Path, name: str, row: dict[str, object]) -> None:
    path = table(root, name)
    before = path.read_text(encoding="utf-8")
    write_table(root, name, [row])
    path.write_text(before + path.read_text(encoding="utf-8"), encoding="utf-8")


def _many_components(root: Path) -> None:
    write_table(root, "component", [{"comppct_r": 1, "compname": "Aye", "mukey": "11", "cokey": "c0"}])
    path = table(root, "component")
    line = path.read_text(encoding="utf-8")
    path.write_text("".join(line.replace('"c0"', f'"c{i}"') for i in range(100_000)), encoding="utf-8")


def _no_shapes(root: Path) -> None:
    for part in (root / "spatial").iterdir():
        part.unlink()


def _other_shapes(root: Path) -> None:
    frame = gpd.GeoDataFrame({"NAME": ["a"]}, geometry=[box(-9, -47, -8, -46)], crs="EPSG:4326")
    pyogrio.write_dataframe(frame, root / "spatial" / "soilmu_a_zz001.shp")


def _far_shapes(root: Path) -> None:
    frame = gpd.GeoDataFrame({"MUKEY": ["11"]}, geometry=[box(5e5, 5e6, 6e5, 6e6)], crs="EPSG:4326")
    pyogrio.write_dataframe(frame, root / "spatial" / "soilmu_a_zz001.shp")


def _cut(name: str, keep: float) -> Change:
    def change(root: Path) -> None:
        path = next(root.rglob(name))
        content = path.read_bytes()
        path.write_bytes(content[: int(len(content) * keep)])

    return change


def _dictionary(content: str) -> Build:
    return export(lambda root: (root / "tabular" / "mstabcol.txt").write_text(content))


def _twice(root: Path) -> None:
    for part in sorted((root / "spatial").iterdir()):
        (root / "spatial" / part.name.replace("zz001", "zz002")).write_bytes(part.read_bytes())


def _soil(name: str, build: Build, verdict: Verdict, **more: object) -> Case:
    return Case("soil", name, build, verdict, **more)  # type: ignore[arg-type]


CASES = [
    _soil("good folder", export(), "repaired", place="table"),
    _soil("good zip", export(zipped=True), "repaired", place="table"),
    *(
        _soil(f"no {name}", export(lambda root, name=name: table(root, name).unlink()), verdict, place=place)
        for name, verdict, place in (
            ("mapunit", "refused", "soilmu_a"),
            ("component", "refused", "table component"),
            ("chorizon", "repaired", "table chorizon"),
        )
    ),
    _soil("no polygons", export(_no_shapes), "refused", whole=True),
    _soil("polygons of another", export(_other_shapes), "refused", place="MUKEY"),
    _soil("metres as degrees", export(_far_shapes), "refused", place="crs"),
    _soil("polygons cut", export(_cut("*.shp", 0.6)), "refused", place="feature 2"),
    _soil(
        "polygons without their table",
        export(lambda r: next(r.rglob("*.dbf")).unlink()),
        "refused",
        place="soilmu_a",
    ),
    _soil("polygons twice", export(_twice), "repaired", place="table"),
    _soil("no projection", export(lambda r: next(r.rglob("*.prj")).unlink()), "repaired", place="crs"),
    _soil(
        "projection nonsense",
        export(lambda r: next(r.rglob("*.prj")).write_text("nonsense")),
        "repaired",
        place="crs",
    ),
    *(
        _soil(f"{name} empty", bytes_of(name, lambda _: b""), verdict, place=f"table {name}")
        for name, verdict in (("component", "refused"), ("chorizon", "repaired"), ("mapunit", "repaired"))
    ),
    *(
        _soil(
            f"{name} with {sign!r} between",
            bytes_of(name, lambda b, sign=sign: b.replace(b"|", sign.encode())),
            verdict,
            place=f"table {name}",
        )
        for name, verdict in (("component", "refused"), ("chorizon", "repaired"))
        for sign in (",", ";", "\t", "||")
    ),
    *(
        _soil(
            f"{name} in {encoding}",
            bytes_of(name, lambda b, e=encoding: b.decode().encode(e)),
            verdict,
            place="encoding",
        )
        for name, verdict in (("component", "repaired"), ("chorizon", "repaired"))
        for encoding in ("utf-16", "utf-32")
    ),
    _soil(
        "chorizon binary",
        bytes_of("chorizon", lambda _: bytes(range(256)) * 50),
        "repaired",
        place="table chorizon",
    ),
    _soil(
        "chorizon a web page",
        bytes_of("chorizon", lambda _: b"<!DOCTYPE html><html>log in</html>"),
        "repaired",
        place="table chorizon",
    ),
    _soil(
        "chorizon with NUL",
        bytes_of("chorizon", lambda b: b.replace(b"Bt", b"B\0", 1)),
        "repaired",
        place="table",
    ),
    _soil(
        "names in Latin-1",
        bytes_of("mapunit", lambda b: b.replace(b"Aye", "Äye".encode("latin-1"))),
        "repaired",
        place="table",
    ),
    _soil("quote never closed", replaced("component", '"Bee"', '"Bee'), "repaired", place="line"),
    _soil(
        "quote never closed in the horizons", replaced("chorizon", '"Bt"', '"Bt'), "repaired", place="line"
    ),
    _soil("a field too many", replaced("component", "Bee", 'Bee"|"x'), "repaired", place="line 2"),
    _soil("cut in a line", export(_cut("chorizon.txt", 0.9)), "repaired", place="table chorizon, line 5"),
    *(
        _soil(f"clay {word}", horizon(claytotal_r=word), "repaired", place="line 6")
        for word in (
            "-5",
            "101",
            "1e400",
            "NaN",
            "inf",
            "0x10",
            "1_0",
            "ten",
            "9" * 400,
            "１２",
            "=1+1",
            "1,5",
        )
    ),
    *(
        _soil(f"depths {top} to {bottom}", horizon(hzdept_r=top, hzdepb_r=bottom), "repaired", place="line 6")
        for top, bottom in (
            (150, 90),
            (90, 90),
            (-10, 20),
            ("", 150),
            (90, ""),
            (10**9, 10**10),
            ("x", "y"),
            (50, 150),
        )
    ),
    _soil("horizon of nobody", horizon(cokey="999"), "repaired", place="line 6"),
    _soil("horizon without a key", horizon(cokey=""), "repaired", place="line 6"),
    _soil("horizon twice", horizon(chkey="1"), "repaired", place="line 6"),
    _soil("horizon called to hurt", horizon(hzname="=cmd|' /C calc'!A0"), "repaired", place="table"),
    _soil("component of nobody", component(mukey="999"), "repaired", place="table"),
    _soil("component twice", component(cokey="101"), "repaired", place="line 4"),
    _soil("component that is its own map unit", component(mukey="104"), "repaired", place="table"),
    _soil("component without a key", component(cokey=""), "repaired", place="line 4"),
    *(
        _soil(f"percent {word}", component(comppct_r=word), "repaired", place="line 4")
        for word in ("-5", "1e9", "NaN", "x")
    ),
    _soil("percents of 400", component(comppct_r=99), "repaired", place="comppct_r"),
    _soil("script in a name", component(compname="<script>alert(1)</script>"), "repaired", place="table"),
    _soil("100,000 components", export(_many_components), "repaired", place="table"),
    _soil(
        "map unit called twice",
        export(lambda r: _append(r, "mapunit", {"musym": "Cc", "mukey": "11"})),
        "repaired",
        place="line 3",
    ),
    _soil(
        "dictionary that turns columns about",
        _dictionary(
            "\r\n".join(f"component|{i}|{name}" for i, name in enumerate(("cokey", "mukey", "comppct_r")))
            + "\r\n"
        ),
        "repaired",
        place="table component",
    ),
    _soil(
        "dictionary of nonsense",
        _dictionary('|||\r\n|x|\r\ncomponent|NaN|cokey\r\n"open\r\n'),
        "repaired",
        place="table",
    ),
    _soil(
        "dictionary without the keys",
        _dictionary("\r\n".join(f"component|{i}|c{i}" for i in range(109)) + "\r\n"),
        "refused",
        place="table component",
    ),
    _soil(
        "link to the tables of another",
        export(
            lambda r: (
                table(r, "chorizon").unlink(),
                (r / "tabular" / "chorizon.txt").symlink_to("/etc/passwd"),
            )
        ),
        "repaired",
        place="table chorizon",
    ),
    _soil("given as a table", lambda folder: table(export()(folder), "component"), "repaired", place="table"),
    _soil(
        "given as its polygons",
        lambda folder: next(export()(folder).rglob("*.shp")),
        "repaired",
        place="table",
    ),
    Case(
        "soil", "a zip of something else", lambda folder: make_control("zip", folder), "refused", whole=True
    ),
]
