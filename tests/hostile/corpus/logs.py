"""Paper logs: tables under each other, words and units as people write them, cells that hold too much or nothing."""

from __future__ import annotations

from controls import LOG

from corpus.case import Case, Verdict, data, packed, text

HOLES, LAYERS, SAMPLES, BARS = (f"{title}\n{table}" for title, table in LOG.items())
GOOD = f"{HOLES}\n{LAYERS}\n{SAMPLES}\n{BARS}"


def layer(line: str) -> str:
    """Return a good log with one more layer."""
    return f"{HOLES}\n{LAYERS}{line}\n\n{SAMPLES}\n{BARS}"


def bar(line: str) -> str:
    """Return a good log with one more bar."""
    return f"{GOOD}{line}\n"


def _case(name: str, content: str | bytes, verdict: Verdict, **more: object) -> Case:
    build = data("day.txt", content) if isinstance(content, bytes) else text("day.txt", content)
    return Case("log", name, build, verdict, **more)  # type: ignore[arg-type]


CASES = [
    _case("as it should be", GOOD, "accepted"),
    _case("by a spreadsheet of 1995", GOOD.replace("\n", "\r\n").encode("utf-16"), "accepted"),
    _case(
        "semicolons and decimal commas",
        GOOD.replace(",", ";").replace("120 cm", "1,2 m"),
        "repaired",
        place="row 3",
    ),
    _case("a layer upside down", layer("H1,60-30,clay,N 6/,5 cm,bends,yes"), "repaired", place="row"),
    _case("a layer of no thickness", layer("H1,60-60,clay,N 6/,5 cm,bends,yes"), "repaired", place="row"),
    _case("a layer over another", layer("H1,20-60,clay,N 6/,5 cm,bends,yes"), "repaired", place="row"),
    _case("a layer of no hole", layer("H9,30-60,clay,N 6/,5 cm,bends,yes"), "repaired", place="row"),
    _case("a depth in words", layer("H1,knee-deep,clay,N 6/,5 cm,bends,yes"), "repaired", place="row"),
    _case("a depth without end", layer("H1,30-1e400,clay,N 6/,5 cm,bends,yes"), "repaired", place="row"),
    _case("a colour of no chart", layer("H1,30-60,clay,99ZZ 99/99,5 cm,bends,yes"), "accepted"),
    _case("a ribbon of a mile", layer("H1,30-60,clay,N 6/,1609 m,bends,yes"), "repaired", place="row"),
    _case("a ribbon below nothing", layer("H1,30-60,clay,N 6/,-5 cm,bends,yes"), "repaired", place="row"),
    _case("a texture that is none", layer("H1,30-60,gold,N 6/,5 cm,bends,yes"), "repaired", place="row"),
    _case(
        "more cells than headings",
        layer("H1,30-60,clay,N 6/,5 cm,bends,yes,and,more"),
        "repaired",
        place="row",
    ),
    _case(
        "a formula in a note",
        layer("H1,30-60,clay,N 6/,5 cm,bends,\"=cmd|' /C calc'!A1\""),
        "repaired",
        place="row",
    ),
    _case(
        "a name of 100,000 letters",
        layer(f"{'H' * 100_000},30-60,clay,N 6/,5 cm,bends,yes"),
        "refused",
        place="row 8",
    ),
    _case("a bar that grew", bar("B2,S1,100,130,128,6,none"), "accepted"),
    _case("a bar longer than a house", bar("B2,S1,99999999,93,90,6,none"), "repaired", place="row"),
    _case("a cone of no chart", bar("B2,S1,100,93,90,77,none"), "repaired", place="row"),
    _case("a fault of no list", bar("B2,S1,100,93,90,6,haunted"), "repaired", place="row"),
    _case("a bar twice", bar("B1,S1,100,93,90,6,none"), "repaired", place="row 16"),
    _case("a bar twice and otherwise", bar("B1,S1,100,95,90,6,none"), "repaired", place="row"),
    _case("a bar of a clay that nobody knows", bar("B2,S99,100,93,90,6,none"), "repaired"),
    _case("a bar of nothing", bar(",,,,,,"), "accepted"),
    _case("headings alone", "Holes\nhole,lat,lon\n\nLayers\nhole,depth,texture\n", "refused", whole=True),
    _case("words alone", "It rained all day and we found nothing.\n", "refused", whole=True),
    _case("nothing", "", "refused", whole=True),
    _case("noughts", b"\0" * 10_000, "refused", whole=True),
    _case(
        "a heading a thousand times",
        ",".join(["hole"] * 1000) + "\n" + ",".join(["H1"] * 1000) + "\n",
        "refused",
        whole=True,
    ),
    Case(
        "log",
        "an export with a table cut off",
        packed("log.zip", {"holes.csv": "hole_id,lon,lat\nH1,-9"}),
        "refused",
        place="",
    ),
    Case(
        "log",
        "a zip of a table and a program",
        packed("log.zip", {"day.csv": SAMPLES.split("\n", 1)[1], "run.exe": b"MZ"}),
        "repaired",
        whole=True,
    ),
]
