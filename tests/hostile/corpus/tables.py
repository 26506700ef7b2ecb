"""Tables of samples: delimiters, encodings, quotes, numbers, places, dates and sheer size."""

from __future__ import annotations

from pathlib import Path

from corpus.case import Case, Verdict, data, text

HEAD = "sample_id,lon,lat,top_cm,bottom_cm,usable,date,note\n"
GOOD = "A1,-9.05,-47.45,20,45,yes,2026-05-31,fat\n"


def rows(*lines: str, head: str = HEAD, ending: str = "\n") -> str:
    return (head.strip("\n") + ending) + "".join(f"{line}{ending}" for line in lines)


def row(**given: str) -> str:
    cells = dict(zip(HEAD.strip().split(","), GOOD.strip().split(","), strict=True)) | given
    return ",".join(cells.values())


def cell(name: str, value: str) -> str:
    """Return a table of one good row and one with a strange cell."""
    return rows(
        GOOD.strip(), row(sample_id="B", **{name: value}) if name != "sample_id" else row(sample_id=value)
    )


def _case(name: str, content: str | bytes, verdict: Verdict, **more: object) -> Case:
    build = data("holes.csv", content) if isinstance(content, bytes) else text("holes.csv", content)
    return Case("samples", name, build, verdict, **more)  # type: ignore[arg-type]


def _long_line(folder: Path) -> Path:
    path = folder / "holes.csv"
    with path.open("wb") as handle:
        handle.write(HEAD.encode() + GOOD.encode() + b"B,-9.05,-47.45,20,45,yes,2026-05-31,")
        for _ in range(50):
            handle.write(b"x" * 1_000_000)
        handle.write(b"\n")
    return path


def _many_columns(folder: Path) -> Path:
    path = folder / "holes.csv"
    path.write_bytes(b"a," * 1_000_000 + b"b\n" + b"1," * 1_000_000 + b"2\n")
    return path


def _many_rows(folder: Path) -> Path:
    path = folder / "holes.csv"
    path.write_text("id,lon,lat\n" + "".join(f"{i},-9,-47\n" for i in range(100_002)))
    return path


def _quote_over_all(folder: Path) -> Path:
    path = folder / "holes.csv"
    path.write_text(HEAD + '"A,-9.05,-47.45,20,45,yes,2026-05-31,x\n' + GOOD * 20_000)
    return path


NUMBERS = (
    "1e400",
    "NaN",
    "inf",
    "-inf",
    "0x10",
    "1_0",
    "--5",
    "5-",
    "1e",
    ".",
    "1.2.3",
    "ten",
    "=9+1",
    "1/2",
)
NO_NUMBER_EITHER_WAY = ("-5", "1e9", "99999999999999999999")
CASES = [
    *(_case(f"depth {word}", cell("top_cm", word), "repaired", place="row 3") for word in NUMBERS),
    *(
        _case(f"depth {word}", cell("top_cm", word), "repaired", place="row 3")
        for word in NO_NUMBER_EITHER_WAY
    ),
    _case("depth in full-width figures", cell("top_cm", "１２"), "accepted"),
    _case("depth with a unit", cell("top_cm", "0.2 m"), "repaired", place="row 3"),
    _case("depths upside down", cell("top_cm", "90"), "repaired", place="row 3", counts=(2, 1, 0, 1)),
    *(
        _case(f"longitude {word}", cell("lon", word), "repaired", place="row 3", counts=(2, 1, 0, 1))
        for word in (
            "1e400",
            "NaN",
            "181",
            "-999999",
            "west",
            "0x9",
            "９..",
            "9 W 3 E",
            '""',
            "1e-400e1",
            "=-9",
        )
    ),
    _case("latitude beyond the pole", cell("lat", "-97"), "repaired", place="row 3", counts=(2, 1, 1, 0)),
    _case("exchanged beyond doubt", rows(row(), row(sample_id="B", lon="-47.45", lat="-109.05")), "repaired"),
    _case("zero and zero", rows(row(), row(sample_id="B", lon="0", lat="0")), "repaired", place="row 3"),
    _case("degrees and minutes", rows(row(), row(sample_id="B", lon="9°3'W", lat="47°27.5'S")), "accepted"),
    _case("minutes of 75", rows(row(), row(sample_id="B", lon="9°75'W")), "repaired", place="row 3"),
    _case("decimal commas", "id;lon;lat;top_cm\n1;-9,05;-47,45;12,5\n2;-9,06;-47,46;13,5\n", "accepted"),
    _case(
        "decimal commas unquoted", "id,lon,lat\n1,-9,05,-47,45\n2,-9,06,-47,46\n", "refused", place="row 2"
    ),
    *(
        _case(f"date {word}", cell("date", word), "repaired", place="row 3")
        for word in (
            "2999-01-01",
            "0001-01-01",
            "2026-02-30",
            "04/05/2026",
            "yesterday",
            "46173",
            "2026-13-01",
        )
    ),
    _case("date in other figures", cell("date", "٢٠٢٦-٠٥-٣١"), "repaired", place="row 3"),
    _case("usable perhaps", cell("usable", "perhaps so"), "repaired", place="row 3"),
    _case(
        "ids that repeat", rows(row(), row(note="other"), row(note="third")), "repaired", counts=(3, 1, 2, 0)
    ),
    _case("one row three times", rows(row(), row(), row()), "repaired", counts=(3, 1, 0, 2)),
    _case("id without an end", cell("sample_id", "x" * 5000), "accepted"),
    _case("id of nothing but marks", cell("sample_id", "\u202e\u200b"), "accepted"),
    _case(
        "formulas in every cell",
        rows("=1+1,=2+2,@SUM(A1),+1,-1,yes,=TODAY(),=cmd|' /C calc'!A0", GOOD.strip()),
        "repaired",
        place="row 2",
    ),
    _case("formula in a note", cell("note", "=cmd|' /C calc'!A0"), "accepted"),
    _case("script in a note", cell("note", "<img src=x onerror=alert(1)>${alert(1)}`{{7*7}}"), "accepted"),
    _case("template in an id", cell("sample_id", "${7*7}{{7*7}}<%=7*7%>"), "accepted"),
    _case("SQL in an id", cell("sample_id", "'; DROP TABLE samples; --"), "accepted"),
    _case("path in an id", cell("sample_id", "../../../etc/passwd"), "accepted"),
    _case("terminal codes in a note", cell("note", "\x1b]0;x\x07\x1b[31mred"), "accepted"),
    _case("rows too short", rows(row(), "B,-9.05"), "repaired", place="row 3", counts=(2, 1, 0, 1)),
    _case("rows too long", rows(row(), row(sample_id="B") + ",x,y"), "repaired", place="row 3"),
    _case(
        "mixed line ends", HEAD.strip() + "\r" + GOOD.strip() + "\r\n" + row(sample_id="B") + "\n", "accepted"
    ),
    _case("blank lines", "\n\n" + HEAD + "\n" + GOOD + "\n\n\n", "accepted"),
    _case("BOM", "\ufeff" + HEAD + GOOD, "accepted"),
    _case("UTF-16 with a BOM", (HEAD + GOOD).encode("utf-16"), "accepted"),
    _case("UTF-16 without a BOM", (HEAD + GOOD).encode("utf-16-le"), "refused", whole=True),
    _case("UTF-32", (HEAD + GOOD).encode("utf-32"), "accepted"),
    _case("UTF-16 cut in a character", (HEAD + GOOD).encode("utf-16")[:-1], "refused", whole=True),
    _case("UTF-7", (HEAD + row(note="+ADw-script+AD4-") + "\n").encode(), "accepted"),
    _case("Windows-1252", (HEAD + row(note="grün")).encode("cp1252"), "repaired", place="encoding"),
    _case("no text at all", bytes(range(256)) * 40, "refused", whole=True),
    _case("NUL in a cell", (HEAD + row(note="a\0b")).encode(), "refused", whole=True),
    _case(
        "NUL far down",
        (
            HEAD
            + GOOD
            + row(sample_id="Y", note="x" * 30_000)
            + "\n"
            + row(sample_id="X", note="x" * 31_000)
            + "\n"
            + row(sample_id="W", note="x" * 30_000)
            + "\n"
            + row(sample_id="Z", note="a\0b")
        ).encode(),
        "repaired",
        place="row 6",
    ),
    _case(
        "lone surrogate",
        (HEAD + row(note="\ud800")).encode("utf-8", "surrogatepass"),
        "repaired",
        place="encoding",
    ),
    _case(
        "overlong UTF-8", HEAD.encode() + row(note="x").encode() + b"\xc0\xaf\n", "repaired", place="encoding"
    ),
    _case("emoji and all planes", cell("note", "🏺\U000e0041\uffff"), "accepted"),
    _case("heading only", HEAD, "refused", whole=True),
    _case("headings twice", "id,lon,lat,lat,lon\n1,-9,-47,1,2\n", "repaired", place="lat"),
    _case("headings empty", ",,,\n1,-9,-47,2\n", "refused", whole=True),
    _case("headings numbers", "1,2,3\n4,5,6\n", "refused", place="position"),
    _case(
        "headings of 100,000 characters",
        f"id,lon,lat,{'x' * 100_000}\n1,-9,-47,2\n",
        "refused",
        place="row 1",
    ),
    _case(
        "quote never closed",
        rows(row(), '"B,-9.05,-47.45,20,45,yes,2026-05-31,x', row(sample_id="C")),
        "repaired",
        place="row",
    ),
    Case("samples", "quote over 20,000 rows", _quote_over_all, "refused", place="row"),
    _case("quote inside a cell", rows(row(note='a "b" c')), "accepted"),
    _case("only quotes", '"' * 1000, "refused", whole=True),
    _case("only commas", "," * 200 + "\n" + "," * 200 + "\n", "refused", whole=True),
    Case("samples", "one line of 50 MB", _long_line, "refused", place="row 3"),
    Case("samples", "a million columns", _many_columns, "refused", place="row 1"),
    Case("samples", "more rows than anybody digs", _many_rows, "refused", place="row"),
    _case("sep= line of a spreadsheet", "sep=|\nid|lon|lat\n1|-9|-47\n", "accepted"),
    _case("sep= of nothing", "sep=\nid,lon,lat\n1,-9,-47\n", "accepted"),
    _case("sep= of a quote", 'sep="\nid"lon"lat\n1"-9"-47\n', "refused", whole=True),
    _case("sep= of a letter", "sep=a\nid,lon,lat\n1,-9,-47\n", "accepted"),
    _case("columns by fixed width", "id   lon    lat\n1    -9     -47\n", "refused", place="position"),
    _case("x and y without a system", "id,x,y\n1,500000,4700000\n", "refused", place="crs"),
    _case("x and y too small for metres", "id,x,y\n1,-9,-47\n", "repaired", place="crs"),
    Case(
        "samples",
        "a system that there is not",
        text("holes.csv", "id,x,y\n1,500000,4700000\n"),
        "refused",
        place="crs",
        crs="EPSG:99999999",
    ),
    Case(
        "samples",
        "a system as a file",
        text("holes.csv", "id,x,y\n1,500000,4700000\n"),
        "refused",
        place="crs",
        crs="/etc/passwd",
    ),
    Case(
        "samples",
        "a system of 100,000 letters",
        text("holes.csv", "id,x,y\n1,500000,4700000\n"),
        "refused",
        place="crs",
        crs="PROJCS[" * 15_000,
    ),
    Case(
        "samples",
        "a system with a grid elsewhere",
        text("holes.csv", "id,x,y\n1,500000,4700000\n"),
        "refused",
        place="crs",
        crs="+proj=utm +zone=29 +nadgrids=/etc/passwd +type=crs",
    ),
    Case(
        "samples",
        "a vertical system",
        text("holes.csv", "id,x,y\n1,500000,4700000\n"),
        "refused",
        place="crs",
        crs="EPSG:5703",
    ),
    Case(
        "samples",
        "coordinates beyond the system",
        text("holes.csv", "id,x,y\n1,1e30,1e30\n"),
        "refused",
        place="row 2",
        crs="EPSG:32729",
    ),
    Case(
        "samples",
        "a field that there is not",
        text("holes.csv", HEAD + GOOD),
        "refused",
        place="depth_m",
        mapping={"depth_m": "top_cm"},
    ),
    Case(
        "samples",
        "a column that there is not",
        text("holes.csv", HEAD + GOOD),
        "refused",
        place="lon",
        mapping={"lon": "'; DROP TABLE x"},
    ),
    Case("holes", "holes as well", text("holes.csv", rows(row(), row(lon="x"))), "repaired", place="row 3"),
    _case(
        "UTM that goes round",
        "id,gps\n1,99Z 500000 4700000\n2,29G 500000 4700000\n",
        "repaired",
        place="row 2",
    ),
    _case(
        "a row moved by a comma in a number",
        "id,depth,lat,lon,usable\nA,1,5,-47.4,-9.1,yes\nB,30,-47.4,-9.1,no\n",
        "repaired",
        place="row 2",
        counts=(2, 1, 0, 1),
    ),
    _case(
        "easting and northing exchanged",
        "id,x,y\n1,4730000,300000\n2,300000,4730000\n",
        "repaired",
        place="row 2",
        crs="EPSG:32729",
        counts=(2, 1, 0, 1),
    ),
    _case("degrees and minutes run together", "id,lat,lon\n1,0047.205,0009.12\n", "refused", place="row 2"),
    _case("a table of another", "plot,species,count\n1,oak,3\n", "refused", place="position"),
    Case(
        "leads",
        "leads from a table",
        text("leads.csv", "kind,lon,lat\nroad cut,-9,-47\nx,y,z\n"),
        "repaired",
        place="row 3",
    ),
    Case(
        "water", "a table where lines belong", text("water.csv", "lon,lat\n-9,-47\n"), "refused", whole=True
    ),
]
