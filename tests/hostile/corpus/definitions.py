"""Deposit-model files and legends: keys, weights and numbers that cannot be, and text of no end."""

from __future__ import annotations

from pathlib import Path

from controls import make_control

from corpus.case import Build, Case, Verdict, data, text


def model(old: str = "", new: str = "", more: str = "") -> Build:
    """Return a shipped model with something in it replaced, or something put at its top."""

    def build(folder: Path) -> Path:
        path = make_control("toml", folder)
        whole = path.read_text(encoding="utf-8")
        assert old in whole, old
        path.write_text(more + (whole.replace(old, new, 1) if old else whole), encoding="utf-8")
        return path

    return build


def _case(name: str, build: Build, verdict: Verdict = "refused", **more: object) -> Case:
    return Case("deposit", name, build, verdict, **more)  # type: ignore[arg-type]


def raw(content: str | bytes) -> Build:
    return data("mine.toml", content.encode() if isinstance(content, str) else content)


W = "weight = 0.37"
DEPOSITS = [
    _case("good", model(), "accepted"),
    *(
        _case(f"weight {value[:24]}", model(W, f"weight = {value}"), place="weight")
        for value in (
            "-0.37",
            "nan",
            "inf",
            "-inf",
            "1.37",
            "0",
            '"0.37"',
            "true",
            "[0.37]",
            "{ a = 1 }",
            "2026-05-31",
            "1e400",
            "0x" + "f" * 10_000,
            "0.3700001",
        )
    ),
    _case("weight of 10,000 figures", model(W, "weight = 1" + "0" * 10_000), whole=True),
    _case("weight not there", model(W + "\n", ""), place="weight"),
    _case("key unknown", model(more='colour = "red"\n'), place="colour"),
    _case("key unknown below", model(W, W + '\nrun = "rm -rf /"'), place="criteria[0].run"),
    _case("key twice", model(W, f"{W}\n{W}"), place="line"),
    *(
        _case(f"key called {value[:20]!r}", model('key = "mudrock"', f"key = {value}"), place="key")
        for value in (
            '"../../etc/passwd"',
            '""',
            '"A B"',
            '"' + "a" * 100_000 + '"',
            "7",
            '"<script>"',
            '"${x}"',
        )
    ),
    _case("title empty", model('title = "Mudrock or underclay"', 'title = ""'), place="criteria[0].title"),
    _case(
        "title of 1 MB",
        model('title = "Mudrock or underclay"', f'title = "{"x" * 1_000_000}"'),
        place="criteria[0].title",
    ),
    _case("text of 3 MB", model(more=f"# {'x' * 3_000_000}\n"), whole=True),
    _case(
        "factor that there is not",
        model('"unit_mudrock"\nreference', '"__class__"\nreference'),
        place="factor",
    ),
    _case(
        "factor of words for numbers",
        model('factor = "unit_mudrock"\nreference', 'factor = "drainage_class"\nreference'),
        place="factor",
    ),
    _case(
        "membership that there is not",
        model('{ kind = "identity" }', '{ kind = "eval" }'),
        place="membership",
    ),
    _case(
        "membership of another's numbers",
        model('{ kind = "identity" }', '{ kind = "up", a = 5, b = 1 }'),
        place="membership",
    ),
    _case(
        "membership points NaN",
        model("[[0, 0.9], [30, 0.9], [100, 0]]", "[[nan, 0.9], [30, 0.9]]"),
        place="points",
    ),
    _case(
        "membership points backwards",
        model("[[0, 0.9], [30, 0.9], [100, 0]]", "[[9, 0.9], [3, 0.9]]"),
        place="points",
    ),
    _case(
        "membership points of three",
        model("[[0, 0.9], [30, 0.9], [100, 0]]", "[[9, 0.9, 1]]"),
        place="points",
    ),
    _case(
        "membership points by the million",
        model("[[0, 0.9], [30, 0.9], [100, 0]]", "[" + ",".join(f"[{i},0.5]" for i in range(100_000)) + "]"),
        "accepted",
    ),
    _case("combine that there is not", model('combine = "max"', 'combine = "__import__"'), place="combine"),
    _case("1,000 lists deep", raw("a = " + "[" * 1000 + "]" * 1000), whole=True),
    _case("100,000 lists deep", raw("a = " + "[" * 100_000 + "]" * 100_000), whole=True),
    _case("100,000 tables deep", raw("a = " + "{a=" * 100_000 + "1" + "}" * 100_000), whole=True),
    _case("dotted key of 100,000", raw(".".join(["a"] * 100_000) + " = 1"), place="line 1"),
    _case("dotted weight of 50,000", model(W, "weight" + ".a" * 50_000 + " = 1"), place="line"),
    _case(
        "dotted title of 50,000",
        model('title = "Mudrock or underclay"', "title" + ".a" * 50_000 + " = 1"),
        place="line",
    ),
    _case("100,000 dotted keys", raw("".join(f"a.b.c{i} = 1\n" for i in range(100_000))), place="a"),
    _case(
        "parts 200 deep",
        raw('key = "a"\n' + "".join(f'[[criteria{".parts" * i}]]\nkey = "k"\n' for i in range(200))),
        place="line",
    ),
    _case("100,000 criteria", raw('key = "a"\n' + "[[criteria]]\n" * 100_000), place="line"),
    _case("criteria a number", raw("criteria = 7\n"), place="criteria"),
    _case("criteria a text", raw('criteria = "x"\n'), place="criteria"),
    _case("empty", raw(""), whole=True),
    _case("only a comment", raw("# nothing\n"), place="key"),
    _case("JSON", raw('{"key": "a"}'), place="line 1"),
    _case("YAML that runs", raw('!!python/object/apply:os.system ["touch x"]'), place="line 1"),
    _case("a program", raw("import os; os.system('touch x')"), place="line 1"),
    _case("a web page", raw("<!DOCTYPE html><html></html>"), whole=True),
    _case("a pickle", raw(b"\x80\x04\x95\x00\x00"), whole=True),
    _case("a picture", raw(b"\x89PNG\r\n\x1a\n"), whole=True),
    _case("UTF-16", raw('key = "a"'.encode("utf-16")), place="byte"),
    _case("Latin-1", raw('key = "grün"'.encode("latin-1")), place="byte"),
    _case("with a BOM", model(more="\ufeff"), "accepted"),
    _case("NUL", raw('key = "a\0b"'), whole=True),
    _case("control character", raw('key = "a\x01b"'), place="line 1"),
    _case("lone surrogate", raw('key = "\\ud800"'), place="line 1"),
    _case("string never closed", raw('key = "a'), place="line 1"),
    _case("line of 1 MB", raw('key = "' + "x" * 1_000_000), place="line 1"),
    _case("date of an age", raw("key = 9999-99-99"), place="line 1"),
    _case("date as a key", raw("key = 2026-05-31T10:00:00Z"), place="key"),
    _case("another ending", text("mine.txt", 'key = "a"'), whole=True),
    _case(
        "script in a caution", model('doc = "Bedded', 'doc = "</script>${alert(1)}{{7*7}} Bedded'), "accepted"
    ),
]


def legend(content: str | bytes, name: str = "legend.csv") -> Build:
    return data(name, content.encode() if isinstance(content, str) else content)


def _legend(
    name: str, content: str | bytes, verdict: Verdict, file: str = "legend.csv", **more: object
) -> Case:
    return Case(
        "geology",
        f"legend, {name}",
        lambda folder: make_control("gpkg", folder),
        verdict,
        legend=legend(content, file),
        **more,
    )  # type: ignore[arg-type]


ROWS = "unit,name,age,description,rocks\n" + "".join(
    f"unit {i},Name {i},Holocene,words,granite\n" for i in range(4)
)
LEGENDS = [
    _legend("good", ROWS, "accepted"),
    _legend("empty", "", "refused", whole=True),
    _legend("heading only", "unit,name\n", "refused", whole=True),
    _legend("no codes", "a,b\n1,2\n", "refused", whole=True),
    _legend("codes of another map", ROWS.replace("unit ", "x"), "repaired", place="unit"),
    _legend("one code missing", ROWS.replace("unit 3", "x"), "repaired", place="unit"),
    _legend("a code twice", ROWS + "unit 1,Other,,,\n", "repaired", place="unit"),
    _legend("rows too long", ROWS + "unit 9,a,b,c,d,e,f\n", "repaired", place="row 6"),
    _legend("quote never closed", ROWS + '"unit 9,a,b,c\n', "repaired", place="row 6"),
    _legend("a cell of 40,000", ROWS + f"unit 9,{'x' * 40_000},,,\n", "refused", place="row 6"),
    _legend(
        "10,000 columns",
        "unit," + ",".join(f"c{i}" for i in range(10_000)) + "\nunit 1\n",
        "refused",
        place="row 1",
    ),
    _legend("Windows-1252", ROWS.replace("Name 1", "grün").encode("cp1252"), "repaired", place="encoding"),
    _legend("UTF-16", ROWS.encode("utf-16"), "accepted"),
    _legend("binary", bytes(range(256)), "refused", whole=True),
    _legend("a web page", "<!DOCTYPE html><html><body>log in</body></html>", "refused", whole=True),
    _legend(
        "formulas and scripts", ROWS.replace("Name 1", "=cmd|' /C calc'!A0</script>${alert(1)}"), "accepted"
    ),
    _legend("words of no rock", ROWS.replace("granite", "💥" * 50), "accepted"),
    _legend(
        "wording of 30,000 letters", ROWS + f"unit 0,x,x,x,{'granite ' * 3500}\n", "repaired", place="unit"
    ),
    _legend("a workbook", b"PK\x03\x04" + b"\0" * 60, "refused", "legend.xlsx", whole=True),
    Case(
        "geology",
        "legend, not there",
        lambda folder: make_control("gpkg", folder),
        "refused",
        whole=True,
        legend=lambda folder: folder / "gone.csv",
    ),
    Case(
        "geology",
        "legend, an address",
        lambda folder: make_control("gpkg", folder),
        "refused",
        whole=True,
        legend=lambda _: Path("http://127.0.0.1:9/legend.csv"),
    ),
    Case(
        "geology",
        "legend, a device",
        lambda folder: make_control("gpkg", folder),
        "refused",
        whole=True,
        legend=lambda _: Path("/dev/zero"),
    ),
]
CASES = [*DEPOSITS, *LEGENDS]
