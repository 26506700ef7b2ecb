"""Marked secrets are planted in every text of a ground; the bytes of every export are searched for them."""

from __future__ import annotations

import base64
import html
import io
import json
import re
import sqlite3
import struct
import subprocess
import sys
import zipfile
import zlib
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import unquote

import geopandas as gpd
import pytest
import rasterio
from PIL import Image
from pypdf import PdfReader
from pyproj import Transformer
from shapely.geometry import LineString, Point, box

from prospect.cli import run
from prospect.pipeline import choose, find_sites, score, share_content
from prospect.records import Looked, Permission
from prospect.share import (
    EXCHANGE_SUFFIXES,
    Audience,
    FieldMapContent,
    Request,
    letter_sheet,
    parcel_view,
    slip_sheet,
    write_exchange,
    write_field_map,
)
from prospect.store import Ground

CRS, WEST, NORTH = "EPSG:32709", 500_000.0, 4_737_000.0
SUFFIXES = (".html", *EXCHANGE_SUFFIXES)
OTHERS = {"public": Audience(), "owner": Audience("owner", "P-4417")}
CLOSE = {"self": Audience("self"), "helper": Audience("helper")}

USER = "fenwick-harrowgate"
"""Somebody's user name, a folder on the way to every file."""
FILES = {
    "elevation": "flight-over-Quarrelsome-farm.tif",
    "geology": "scan-lent-by-Odile-Varnish.gpkg",
    "parcels": "Zanthe-tax-roll.gpkg",
    "samples": "Zanthe-back-field.csv",
    "leads": "heard-at-the-Plover-inn.gpkg",
    "keepouts": "graves-told-by-Isbel.gpkg",
    "roads": "drive-of-the-Mottrams.gpkg",
    "structures": "dykes-walked-with-Corbin.gpkg",
    "faces": "pits-of-old-Hesketh.gpkg",
    "wetlands": "bog-behind-Larksome.gpkg",
    "water": "springs-of-Withycombe.gpkg",
}
PEOPLE = {
    "name of the ground": "Behind the Ludgrove barn",
    "owner": "Zanthe Quorrel",
    "another owner": "Peverell Stook",
    "phone number in a note": "+44 1632 960142",
    "sample": "VEX-SAMPLE-9",
    "hole": "QUIN-HOLE-7",
    "date of a sample": "2019-03-17",
    "another column": "key under the blue pot",
    "lead": "Isbel saw white clay by the Tansy gate",
    "keep-out": "Grave of Brannock",
    "keep-out kind": "burial of the Brannocks",
    "road": "Mottram private drive",
    "dyke": "Corbin dyke",
    "face": "Hesketh pit",
    "wetland": "Larksome bog",
    "water": "Withycombe spring",
    "another parcel": "P-9932",
}
LEDGER = {
    "who gave leave": "Hobart Larkspur",
    "what they speak as": "widow of the miller Tarn",
    "how it was said": "over the hedge at Easterday",
    "conditions": "no dogs by the Wrenfield gate",
    "note of a permission": "ring 01632 960177 after milking",
    "name of a paper": "slip-of-Hobart-Larkspur",
    "words of a paper": "signed at the Larkspur kitchen table",
    "who refused": "Quillon Thrupp",
    "who looked": "Nedward Corrie",
    "what was seen": "well cap under the bean row of Ada",
    "number of a ticket": "TKT-5581790",
}
PHOTO_MARKS = (b"JFIF\0", b"Exif\0", b"xmpmeta", b"\xff\xd8\xff\xe0", b"\xff\xd8\xff\xe1")
TOLD_TO_A_HELPER = ("what was seen", "name of a photo")
"""Somebody who comes along must know of a buried line; a photo's name is the name of its sample."""
PICTURE = {
    "name of a photo": "IMG-of-Ottilie-behind-the-barn",
    "artist of a photo": "Ottilie Wrangham",
    "words of a photo": "the Wrangham hollow at dusk",
    "camera of a photo": "Serial-QX77-99120",
}
SPOT = (WEST + 613.37, NORTH - 911.83)
LEAD = (WEST + 1307.41, NORTH - 1733.29)
GRAVE = (WEST + 861.77, NORTH - 2411.59)
SHOT = (WEST + 1839.19, NORTH - 1377.43)
LOOKED = (WEST + 417.61, NORTH - 2077.13)


@dataclass(frozen=True)
class Planted:
    """A ground with secrets in it, and where they lie."""

    folder: Path
    content: FieldMapContent


@pytest.fixture(scope="module")
def planted(small_files, tmp_path_factory) -> Planted:
    folder = tmp_path_factory.mktemp("home") / USER / "clay"
    folder.mkdir(parents=True)
    files = {kind: folder / name for kind, name in FILES.items()}
    files["elevation"].write_bytes(small_files["elevation"].read_bytes())
    files["geology"].write_bytes(small_files["geology"].read_bytes())
    _plant_shapes(files)
    lon, lat = _lonlat(SPOT)
    files["samples"].write_text(
        "sample_id,hole_id,lon,lat,top_cm,bottom_cm,date,usable,note,gate\n"
        f"{PEOPLE['sample']},{PEOPLE['hole']},{lon:.8f},{lat:.8f},41,87,{PEOPLE['date of a sample']},yes,"
        f"ring {PEOPLE['phone number in a note']},{PEOPLE['another column']}\n",
        encoding="utf-8",
    )
    ground = folder / "ground"
    assert run(["new", str(ground)]) == 0
    Ground.open(ground).change_settings(name=PEOPLE["name of the ground"])
    for kind, path in files.items():
        assert run(["add", str(ground), kind, str(path)]) == 0, kind
    photo = _photo(folder / f"{PICTURE['name of a photo']}.jpg")
    assert run(["add", str(ground), "samples", str(photo)]) == 0
    opened = Ground.open(ground)
    assert set(opened.layers()) >= set(FILES) - {"samples"}
    _plant_ledger(opened, folder)
    scored = score(opened, choose(opened))
    sites, outlines = find_sites(opened, scored, top=20)
    content = share_content(opened, scored, sites, outlines, today="2026-05-02")
    assert content.sites
    assert content.samples
    return Planted(ground, content)


def _plant_ledger(ground: Ground, folder: Path) -> None:
    paper = folder / f"{LEDGER['name of a paper']}.pdf"
    paper.write_bytes(b"%PDF-1.4 " + LEDGER["words of a paper"].encode())
    ground.permit(
        Permission(
            "P-4417",
            "granted",
            scope="dig",
            person=LEDGER["who gave leave"],
            speaks_as=LEDGER["what they speak as"],
            how=LEDGER["how it was said"],
            conditions=LEDGER["conditions"],
            note=LEDGER["note of a permission"],
        ),
        document=paper,
    )
    ground.permit(Permission(PEOPLE["another parcel"], "refused", person=LEDGER["who refused"]))
    for spot, clear in ((LOOKED, True), (SPOT, False)):
        ground.note_looked(
            Looked(
                "utility_lines",
                *_lonlat(spot),
                clear=clear,
                seen=LEDGER["what was seen"],
                ticket=LEDGER["number of a ticket"],
                person=LEDGER["who looked"],
                seen_on="2026-04-30",
            )
        )


def _photo(path: Path) -> Path:
    """Write a photo that says who took it, with what and where, in Exif, a comment and XMP (Exif 2.32, 4.6)."""
    lon, lat = _lonlat(SHOT)

    def parts(degrees: float) -> tuple[float, float, float]:
        minutes = abs(degrees) % 1 * 60
        return float(int(abs(degrees))), float(int(minutes)), round(minutes % 1 * 60, 4)

    exif = Image.Exif()
    exif[0x010E], exif[0x013B] = PICTURE["words of a photo"], PICTURE["artist of a photo"]
    exif.get_ifd(0x8769).update({0x9003: "2026:04:11 10:00:00", 0xA431: PICTURE["camera of a photo"]})
    exif.get_ifd(0x8825).update(
        {1: "S" if lat < 0 else "N", 2: parts(lat), 3: "W" if lon < 0 else "E", 4: parts(lon)}
    )
    packet = f"<x:xmpmeta xmlns:x='adobe:ns:meta/'>{PICTURE['artist of a photo']}</x:xmpmeta>".encode()
    picture = Image.new("RGB", (64, 48), (120, 90, 60))
    picture.save(path, "JPEG", exif=exif, comment=PICTURE["words of a photo"].encode(), xmp=packet)
    return path


def _plant_shapes(files: dict[str, Path]) -> None:
    east, south = WEST + 2400, NORTH - 3000
    middle = WEST + 1200
    _write(
        files["parcels"],
        [box(WEST, south, middle, NORTH), box(middle, south, east, NORTH)],
        parcel_id=["P-4417", PEOPLE["another parcel"]],
        owner=[PEOPLE["owner"], PEOPLE["another owner"]],
        phone=[PEOPLE["phone number in a note"]] * 2,
    )
    lead, grave = PEOPLE["lead"], PEOPLE["keep-out"]
    _write(files["leads"], [Point(*LEAD)], kind=["lead"], name=[lead], note=[lead])
    kind = PEOPLE["keep-out kind"]
    _write(files["keepouts"], [Point(*GRAVE).buffer(40)], kind=[kind], name=[grave], note=[grave])
    line = LineString([(WEST + 100, south), (WEST + 900, NORTH)])
    _write(files["roads"], [line], kind=["track"], name=[PEOPLE["road"]])
    _write(files["structures"], [line], kind=["dyke"], name=[PEOPLE["dyke"]])
    _write(files["faces"], [Point(*LEAD)], kind=["pit"], name=[PEOPLE["face"]])
    bog = box(WEST + 1100, south + 300, WEST + 1250, south + 500)
    _write(files["wetlands"], [bog], kind=["bog"], name=[PEOPLE["wetland"]])
    stream = LineString([(WEST + 1200, NORTH), (WEST + 1200, south)])
    _write(files["water"], [stream], kind=["stream"], name=[PEOPLE["water"]])


def _write(path: Path, shapes: list, **columns: list[str]) -> None:
    frame = gpd.GeoDataFrame(columns, geometry=shapes, crs=CRS)
    frame.to_file(path, layer=path.stem, driver="GPKG")


def _lonlat(spot: tuple[float, float]) -> tuple[float, float]:
    return Transformer.from_crs(CRS, "EPSG:4326", always_xy=True).transform(*spot)


def _written(tmp_path: Path, content: FieldMapContent, audience: Audience, suffix: str) -> bytes:
    path = tmp_path / f"copy{suffix}"
    (write_field_map if suffix == ".html" else write_exchange)(path, content, audience)
    assert [entry.name for entry in tmp_path.iterdir()] == [path.name], "something lies beside the copy"
    return path.read_bytes()


def everything_in(raw: bytes, suffix: str, folder: Path) -> bytes:
    """Return a file's bytes and all that is packed, encoded or compressed in it."""
    found = [raw]
    if suffix == ".kmz":
        with zipfile.ZipFile(io.BytesIO(raw)) as archive:
            found.append(archive.comment)
            for entry in archive.infolist():
                found += [entry.filename.encode(), entry.comment, entry.extra, archive.read(entry)]
    if suffix == ".gpkg":
        copy = folder / "looked-at.gpkg"
        copy.write_bytes(raw)
        found += _cells(copy)
    if suffix == ".tif":
        copy = folder / "looked-at.tif"
        copy.write_bytes(raw)
        with rasterio.open(copy) as source:
            spaces = [source.tags(), source.tags(1)]
            spaces += [source.tags(ns=space) for space in source.tag_namespaces()]
            found.append(repr((spaces, source.descriptions, source.units, source.transform)).encode())
    for packed in re.findall(rb"data:image/png;base64,([A-Za-z0-9+/=]+)", raw):
        found += _chunks(base64.b64decode(packed))
    plain = b"\n".join(found)
    text = plain.decode("utf-8", "replace")
    spelled = re.sub(r"\\u([0-9a-fA-F]{4})", lambda m: chr(int(m[1], 16)), text)
    undone = html.unescape(html.unescape(spelled))
    return b"\n".join(
        (
            plain,
            spelled.encode("utf-8", "replace"),
            undone.encode("utf-8", "replace"),
            unquote(undone).encode(),
        )
    )


def _cells(path: Path) -> list[bytes]:
    connection = sqlite3.connect(path)
    connection.text_factory = bytes
    try:
        tables = [
            name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")
        ]
        rows = [row for name in tables for row in connection.execute(f'SELECT * FROM "{name.decode()}"')]
        return [cell if isinstance(cell, bytes) else repr(cell).encode() for row in rows for cell in row]
    finally:
        connection.close()


def _chunks(png: bytes) -> list[bytes]:
    """Return every chunk of a PNG, the compressed ones also unpacked (PNG specification, 5.3)."""
    found, at = [png], 8
    while at < len(png):
        size, kind = struct.unpack(">I4s", png[at : at + 8])
        body = png[at + 8 : at + 8 + size]
        assert kind in (b"IHDR", b"PLTE", b"tRNS", b"IDAT", b"IEND"), (
            f"a chunk {kind!r} that no picture needs"
        )
        found.append(zlib.decompress(body) if kind == b"IDAT" else body)
        at += 12 + size
    return found


def spellings(secret: str) -> set[bytes]:
    """Return a text in the ways it may be written."""
    ways = {secret, secret.lower(), secret.upper(), secret.replace(" ", "_"), re.sub(r"\W", "", secret)}
    return {way.encode(code) for way in ways for code in ("utf-8", "utf-16-le", "utf-16-be")}


def place_spellings(spot: tuple[float, float], decimals: int) -> set[bytes]:
    """Return a place as degrees, degrees and minutes, metres and binary numbers."""
    lon, lat = _lonlat(spot)
    found: set[bytes] = set()
    for value in (lon, lat):
        size = abs(value)
        for digits in range(decimals, 9):
            cut = int(size * 10**digits) / 10**digits
            for text in (f"{size:.{digits}f}", f"{cut:.{digits}f}"):
                found |= {text.encode(), text.replace(".", ",").encode()}
        minutes = (size % 1) * 60
        found |= {f"{int(size)}°{int(minutes)}'{minutes % 1 * 60:.1f}".encode(), f"{minutes:.4f}".encode()}
        found |= {struct.pack("<d", value), struct.pack(">d", value), struct.pack("<d", round(value, 7))}
    for value in spot:
        found |= {f"{value:.1f}".encode(), f"{value:.2f}".encode(), str(int(value)).encode()}
        found |= {struct.pack("<d", value), struct.pack("<d", round(value, 2))}
    return found


def _leaks(haystack: bytes, secrets: dict[str, str]) -> list[str]:
    return [what for what, secret in secrets.items() if any(way in haystack for way in spellings(secret))]


def _paths(planted: Planted) -> dict[str, str]:
    return {"user name": USER, "folder": str(planted.folder.parent)}


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("who", OTHERS)
def test_others_find_no_secret(planted, tmp_path, tmp_path_factory, who, suffix):
    raw = _written(tmp_path, planted.content, OTHERS[who], suffix)
    haystack = everything_in(raw, suffix, tmp_path_factory.mktemp("look"))
    stems = {f"file of {kind}": Path(name).stem for kind, name in FILES.items()}
    assert _leaks(haystack, PEOPLE | LEDGER | PICTURE | stems | _paths(planted)) == []
    assert not [mark for mark in PHOTO_MARKS if mark in haystack]
    for spot in (SPOT, LEAD, GRAVE, SHOT, LOOKED):
        assert not [way for way in place_spellings(spot, 4 if who == "public" else 5) if way in haystack]


@pytest.mark.parametrize("who", OTHERS)
def test_others_are_told_publisher_and_licence_and_no_file(planted, tmp_path, who):
    named = [
        replace(layer, attribution="Survey of Tarn", licence="CC BY 4.0", vintage="1998")
        if layer.kind == "geology"
        else layer
        for layer in planted.content.layers
    ]
    old = next(layer for layer in planted.content.layers if layer.kind == "geology")
    new = next(layer for layer in named if layer.kind == "geology")
    content = replace(
        planted.content,
        layers=tuple(named),
        readings={
            rank: replace(
                report,
                lead=replace(
                    report.lead,
                    criteria=tuple(
                        replace(one, source=one.source.replace(old.sentence(), new.sentence()))
                        for one in report.lead.criteria
                    ),
                ),
            )
            for rank, report in planted.content.readings.items()
        },
    )
    page = _written(tmp_path, content, OTHERS[who], ".html").decode()
    assert "geology: own file, 1998 (Survey of Tarn; CC BY 4.0)" in page
    assert "elevation: own file" in page
    assert "keepouts" not in page.split("<script")[0]
    assert "geology layer, 1998" in page
    assert ("A ground" if who == "public" else "Ground on parcel P-4417") in page


@pytest.mark.parametrize("suffix", SUFFIXES)
def test_the_public_finds_no_parcel_and_no_exact_site(planted, tmp_path, tmp_path_factory, suffix):
    raw = _written(tmp_path, planted.content, OTHERS["public"], suffix)
    haystack = everything_in(raw, suffix, tmp_path_factory.mktemp("look"))
    assert b"4417" not in haystack
    for site in planted.content.sites:
        spot = (site.easting, site.northing)
        ways = {way for way in place_spellings(spot, 5) if not way.replace(b".0", b"").isdigit()}
        assert not [way for way in ways if way in haystack], site.site


@pytest.mark.parametrize("suffix", SUFFIXES)
@pytest.mark.parametrize("who", CLOSE)
def test_not_even_a_helper_gets_papers_pictures_and_folders(planted, tmp_path, tmp_path_factory, who, suffix):
    raw = _written(tmp_path, planted.content, CLOSE[who], suffix)
    haystack = everything_in(raw, suffix, tmp_path_factory.mktemp("look"))
    kept = {"another column": PEOPLE["another column"]} | {
        what: secret for what, secret in (LEDGER | PICTURE).items() if what not in TOLD_TO_A_HELPER
    }
    assert _leaks(haystack, _paths(planted) | kept) == []
    assert not [mark for mark in PHOTO_MARKS if mark in haystack]


@pytest.mark.parametrize(
    ("suffix", "there"),
    [
        (".html", {"owner", "sample", "phone number in a note", "name of the ground"}),
        (".geojson", {"sample", "hole", "phone number in a note", "name of the ground"}),
        (".gpx", {"sample", "phone number in a note", "name of the ground"}),
        (".kmz", {"sample", "phone number in a note", "name of the ground"}),
        (".gpkg", {"owner", "sample", "hole", "phone number in a note"}),
    ],
)
def test_the_search_finds_what_is_there(planted, tmp_path, tmp_path_factory, suffix, there):
    """What a helper may see is found by the same search; else finding nothing would prove nothing."""
    raw = _written(tmp_path, planted.content, CLOSE["helper"], suffix)
    haystack = everything_in(raw, suffix, tmp_path_factory.mktemp("look"))
    assert set(_leaks(haystack, PEOPLE)) >= there
    assert [way for way in place_spellings(SPOT, 5) if way in haystack]


def test_an_owners_letter_and_slip_tell_nothing_of_others(planted):
    ground = Ground.open(planted.folder)
    frames = {
        name: gpd.read_file(ground.layers_folder / f"{name}.gpkg", layer=name) for name in ("water", "roads")
    }
    view = parcel_view(planted.content.parcels, "P-4417", [_lonlat(SPOT)], **frames)
    theirs = ("owner", "name of the ground")
    others = {what: secret for what, secret in PEOPLE.items() if what not in theirs}
    stems = {f"file of {kind}": Path(name).stem for kind, name in FILES.items()}
    for make in (letter_sheet, slip_sheet):
        pdf = make(view, Request(writer=("Rowan Alder",)), units="metric", made_on="2026-05-02").pdf
        reader = PdfReader(io.BytesIO(pdf))
        said = [page.extract_text() for page in reader.pages] + [
            repr(reader.metadata),
            repr(reader.xmp_metadata),
        ]
        streams = [
            item.get_data()
            for number in range(1, len(reader.xref[0]) + 1)
            if hasattr(item := reader.get_object(number), "get_data")
        ]
        haystack = b"\n".join((pdf, "\n".join(said).encode(), *streams))
        assert _leaks(haystack, others | LEDGER | PICTURE | stems | _paths(planted)) == []
        assert b"Quorrel" in haystack or make is slip_sheet  # whose letter it is


def test_the_sites_command_answers_its_own_user_only(planted, capsys):
    """`sites` tells whoever runs it which parcels a site touches, and never whose they are."""
    capsys.readouterr()
    assert run(["sites", str(planted.folder), "--json"]) == 0
    said = capsys.readouterr()
    sites = json.loads(said.out)["sites"]
    assert any("P-4417" in site["parcels"] or PEOPLE["another parcel"] in site["parcels"] for site in sites)
    told = {what: secret for what, secret in (PEOPLE | LEDGER | PICTURE).items() if what != "another parcel"}
    assert _leaks((said.out + said.err).encode(), told | _paths(planted)) == []


COMMAND = [sys.executable, "-c", "from prospect.cli import main; main()"]
ILL = {
    "letter-from-Zanthe.csv": (b"sample_id,lon,lat\nX,north,south\n", "samples"),
    "plot-of-Zanthe.gpkg": (b"SQLite format 3\0" + b"x" * 5000, "parcels"),
    "flight-of-Zanthe.tif": (b"II*\0" + b"\0" * 400, "elevation"),
    "far-from-Zanthe.geojson": (
        b'{"type":"FeatureCollection","features":[{"type":"Feature","properties":{"name":"x"},'
        b'"geometry":{"type":"Point","coordinates":[10,50]}}]}',
        "leads",
    ),
    "walk-of-Zanthe.gpx": (b"<!DOCTYPE gpx [<!ENTITY e 'x'>]><gpx>&e;</gpx>", "samples"),
    "empty-of-Zanthe.zip": (b"", "soil"),
    "gone-with-Zanthe.csv": (None, "samples"),
}


@pytest.mark.slow
def test_a_refusal_names_the_file_and_never_its_folder(planted, tmp_path):
    """What stands in a terminal is copied into questions to others."""
    folder = tmp_path / USER / "private of Zanthe Quorrel"
    folder.mkdir(parents=True)
    for name, (content, kind) in ILL.items():
        if content is not None:
            (folder / name).write_bytes(content)
        done = subprocess.run(
            [*COMMAND, "add", str(planted.folder), kind, str(folder / name)],
            capture_output=True,
            text=True,
            check=False,
        )
        said = done.stdout + done.stderr
        assert done.returncode == 3, said
        assert name in said
        assert "Traceback" not in said
        secrets = {"user name": USER, "folder": str(folder.parent), "last folder": folder.name}
        assert _leaks(said.encode(), secrets | LEDGER | {"another owner": PEOPLE["another owner"]}) == [], (
            name
        )


def test_a_fault_of_the_program_names_nobody(planted, monkeypatch, capsys):
    from prospect.cli import look

    def fails(*_, **__):
        raise RuntimeError(f"{PEOPLE['owner']} at {planted.folder}, {LEDGER['who gave leave']}")

    monkeypatch.setattr(look, "find_sites", fails)
    monkeypatch.delenv("CLAYWALK_DEBUG", raising=False)
    capsys.readouterr()
    assert run(["sites", str(planted.folder)]) == 1
    said = capsys.readouterr()
    assert "RuntimeError in prospect/cli/" in said.err
    assert _leaks((said.out + said.err).encode(), PEOPLE | LEDGER | _paths(planted)) == []
    assert "Zanthe" not in said.err


def test_the_count_of_secrets_and_copies(planted, tmp_path, tmp_path_factory, figures):
    """The search of every copy once more, for the figure that is printed."""
    stems = {f"file of {kind}": Path(name).stem for kind, name in FILES.items()}
    secrets = PEOPLE | LEDGER | PICTURE | stems | _paths(planted)
    copies = leaks = 0
    for audience in OTHERS.values():
        for suffix in SUFFIXES:
            folder = tmp_path / str(copies)
            folder.mkdir()
            raw = _written(folder, planted.content, audience, suffix)
            leaks += len(_leaks(everything_in(raw, suffix, tmp_path_factory.mktemp("look")), secrets))
            copies += 1
    assert leaks == 0
    figures["secrets"] = (
        f"{len(secrets)} words and 5 places planted, {copies} copies for others searched, {leaks} leaks"
    )
