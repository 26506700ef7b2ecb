"""GPX, KML and KMZ: entities, depth, encodings, and points that are none."""

from __future__ import annotations

from controls import kml

from corpus.case import Build, Case, Verdict, data, packed, text

LAUGHS = "".join(f'<!ENTITY l{i + 1} "{f"&l{i};" * 10}">' for i in range(9))
MANY = " ".join(f"a{i}='1'" for i in range(100_000))
WPT = '<wpt lat="-47" lon="-9"><name>P</name></wpt>'


def gpx(inner: str, head: str = '<?xml version="1.0"?>') -> str:
    return f'{head}<gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">{inner}</gpx>'


def entity(kind: str, body: str = "&a;") -> str:
    return f'<?xml version="1.0"?><!DOCTYPE gpx [{kind}]><gpx><wpt lat="1" lon="1"><name>{body}</name></wpt></gpx>'


def _gpx(name: str, content: str | bytes, verdict: Verdict, **more: object) -> Case:
    build = data("walk.gpx", content) if isinstance(content, bytes) else text("walk.gpx", content)
    return Case("samples", f"gpx, {name}", build, verdict, **more)  # type: ignore[arg-type]


def _kml(name: str, content: str | Build, verdict: Verdict, **more: object) -> Case:
    build = text("walk.kml", content) if isinstance(content, str) else content
    return Case("samples", f"kml, {name}", build, verdict, **more)  # type: ignore[arg-type]


def mark(coordinates: str, name: str = "K") -> str:
    inner = (
        f"<Placemark><name>{name}</name><Point><coordinates>{coordinates}</coordinates></Point></Placemark>"
    )
    return f'<kml xmlns="http://www.opengis.net/kml/2.2"><Document>{inner}</Document></kml>'


CASES = [
    _gpx("good", gpx(WPT), "accepted"),
    _gpx(
        "billion laughs",
        f'<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY l0 "ha">{LAUGHS}]><gpx>{WPT}</gpx>',
        "refused",
        whole=True,
    ),
    _gpx("quadratic blow-up", entity(f'<!ENTITY a "{"x" * 50_000}">', "&a;" * 500), "refused", whole=True),
    _gpx("entity of a file", entity('<!ENTITY a SYSTEM "file:///etc/passwd">'), "refused", whole=True),
    _gpx("entity of an address", entity('<!ENTITY a SYSTEM "http://127.0.0.1:9/x">'), "refused", whole=True),
    _gpx(
        "parameter entity",
        entity('<!ENTITY % a SYSTEM "http://127.0.0.1:9/x.dtd"> %a;', "x"),
        "refused",
        whole=True,
    ),
    _gpx(
        "DOCTYPE elsewhere",
        '<?xml version="1.0"?><!DOCTYPE gpx SYSTEM "http://127.0.0.1:9/x.dtd"><gpx/>',
        "refused",
        whole=True,
    ),
    _gpx(
        "late DOCTYPE",
        f"<?xml version='1.0'?><!-- {'x' * 70_000} --><!DOCTYPE gpx [<!ENTITY a 'b'>]><gpx/>",
        "refused",
        whole=True,
    ),
    _gpx("entities in UTF-16", entity('<!ENTITY a "b">').encode("utf-16"), "refused", whole=True),
    _gpx("in UTF-16", gpx(WPT, '<?xml version="1.0" encoding="utf-16"?>').encode("utf-16"), "accepted"),
    _gpx(
        "in an encoding that there is not",
        gpx(WPT, '<?xml version="1.0" encoding="x-none"?>'),
        "refused",
        place="line 1",
    ),
    _gpx("in UTF-7", gpx(WPT, '<?xml version="1.0" encoding="utf-7"?>'), "refused", place="line 1"),
    _gpx(
        "in an encoding of programs",
        gpx(WPT, '<?xml version="1.0" encoding="rot13"?>'),
        "refused",
        place="line 1",
    ),
    _gpx(
        "in Latin-1, said",
        gpx(WPT.replace("P", "grün"), '<?xml version="1.0" encoding="iso-8859-1"?>').encode("latin-1"),
        "accepted",
    ),
    _gpx("in Latin-1, not said", gpx(WPT.replace("P", "grün")).encode("latin-1"), "refused", place="line 1"),
    _gpx("with a BOM", b"\xef\xbb\xbf" + gpx(WPT).encode(), "accepted"),
    _gpx(
        "100,000 elements deep",
        "<gpx>" + "<a>" * 100_000 + "</a>" * 100_000 + "</gpx>",
        "refused",
        place="element",
    ),
    _gpx("100,000 attributes", gpx(f"<wpt {MANY} lat='1' lon='1'/>"), "accepted"),
    _gpx(
        "one attribute of 10 MB",
        gpx(f"<wpt lat='{'1' * 10_000_000}' lon='1'/>"),
        "refused",
        place="waypoint 1",
    ),
    _gpx("text of 10 MB", gpx(f"<wpt lat='-47' lon='-9'><name>{'x' * 10_000_000}</name></wpt>"), "accepted"),
    _gpx("larger than any walk", gpx(" " * 21_000_000), "refused", whole=True),
    _gpx("100,001 points", gpx('<wpt lat="1" lon="1"/>' * 100_001), "refused", place="waypoint"),
    _gpx("unclosed", '<gpx><wpt lat="1" lon="1">', "refused", place="line 1"),
    _gpx("cut in a tag", gpx(WPT)[:-20], "refused", place="line 1"),
    _gpx("two roots", gpx(WPT) + gpx(WPT), "refused", place="line 1"),
    _gpx("control character", gpx(WPT.replace("P", "a\x01b")), "refused", place="line 1"),
    _gpx("NUL", gpx(WPT.replace("P", "a\x00b")), "refused", place="line 1"),
    _gpx("unknown entity", gpx(WPT.replace("P", "&nbsp;")), "refused", place="line 1"),
    _gpx("character reference", gpx(WPT.replace("P", "&#x3C;script&#x3E;")), "accepted"),
    _gpx("other root", "<kml><wpt lat='1' lon='1'/></kml>", "refused", whole=True),
    _gpx("no points", gpx(""), "refused", whole=True),
    _gpx("tracks only", gpx('<trk><trkseg><trkpt lat="1" lon="1"/></trkseg></trk>'), "refused", whole=True),
    _gpx(
        "XInclude",
        '<gpx xmlns:xi="http://www.w3.org/2001/XInclude"><xi:include href="file:///etc/passwd"/></gpx>',
        "refused",
        whole=True,
    ),
    _gpx(
        "style sheet elsewhere",
        gpx(WPT, '<?xml version="1.0"?><?xml-stylesheet href="http://127.0.0.1:9/"?>'),
        "accepted",
    ),
    _gpx(
        "schema elsewhere",
        gpx(WPT).replace(
            "<gpx ",
            '<gpx xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance" '
            'xsi:schemaLocation="http://127.0.0.1:9/ http://127.0.0.1:9/x.xsd" ',
        ),
        "accepted",
    ),
    *(
        _gpx(
            f"latitude {word[:12]}",
            gpx(WPT + WPT.replace("-47", word)),
            "repaired",
            place="waypoint 2",
            counts=(2, 1, 0, 1),
        )
        for word in ("", "x", "NaN", "1e400", "95.5.5", "--1", "∞", "&lt;b&gt;")
    ),
    _gpx("no latitude", gpx(WPT + '<wpt lon="-9"/>'), "repaired", place="waypoint 2", counts=(2, 1, 0, 1)),
    _gpx(
        "date far ahead",
        gpx(WPT + WPT.replace("<name>", "<time>2999-01-01T00:00:00Z</time><name>Q")),
        "repaired",
        place="waypoint 2",
    ),
    _gpx(
        "date of a week number gone round",
        gpx(WPT + WPT.replace("<name>", "<time>1819-08-22</time><name>Q")),
        "repaired",
        place="waypoint 2",
    ),
    _gpx(
        "link to a script", gpx(WPT.replace("<name>", '<link href="javascript:alert(1)"/><name>')), "accepted"
    ),
    _gpx(
        "namespaces without end",
        gpx(WPT).replace("<gpx ", "<gpx " + " ".join(f'xmlns:n{i}="urn:{i}"' for i in range(5000)) + " "),
        "accepted",
    ),
    _kml("good", kml(), "accepted"),
    _kml(
        "entity of a file",
        mark("-9,-47", "&a;").replace(
            "<kml", '<!DOCTYPE kml [<!ENTITY a SYSTEM "file:///etc/passwd">]><kml', 1
        ),
        "refused",
        whole=True,
    ),
    _kml(
        "network link",
        mark("-9,-47").replace(
            "</Document>",
            "<NetworkLink><Link><href>http://127.0.0.1:9/a.kml</href></Link></NetworkLink></Document>",
        ),
        "accepted",
    ),
    _kml(
        "script in a description",
        mark("-9,-47").replace(
            "<Point>", "<description><![CDATA[<script>alert(1)</script>]]></description><Point>"
        ),
        "accepted",
    ),
    *(
        _kml(
            f"coordinates {word[:16]!r}",
            mark("-9,-47").replace("</Document>", mark(word, "L")[54:-17] + "</Document>"),
            "repaired",
            place="waypoint 2",
            counts=(2, 1, 0, 1),
        )
        for word in ("", ",", "-9", "x,y", "1e400,1", "NaN,NaN", "-9 -47", "0,0", "999,999")
    ),
    _kml("polygons only", mark("-9,-47").replace("Point>", "LineString>"), "refused", whole=True),
    _kml(
        "40,000 folders inside each other",
        '<kml xmlns="http://www.opengis.net/kml/2.2">'
        + "<Folder>" * 40_000
        + "</Folder>" * 40_000
        + "</kml>",
        "refused",
        place="element",
    ),
    _kml("a web page", "<!DOCTYPE html><html><body>Please log in</body></html>", "refused", whole=True),
    _kml(
        "a model with a file",
        mark("-9,-47").replace("<Point>", "<Model><Link><href>/etc/passwd</href></Link></Model><Point>"),
        "accepted",
    ),
    Case("samples", "kmz, good", packed("walk.kmz", {"doc.kml": kml()}), "accepted"),
    Case("samples", "kmz, no document", packed("walk.kmz", {"a.png": b"x"}), "refused", whole=True),
    Case(
        "samples",
        "kmz, two documents",
        packed("walk.kmz", {"doc.kml": kml(), "other.kml": kml(3)}),
        "repaired",
        place="member",
    ),
    Case(
        "samples",
        "kmz, document a picture",
        packed("walk.kmz", {"doc.kml": b"\x89PNG\r\n\x1a\n"}),
        "refused",
        place="member doc.kml",
    ),
    Case(
        "samples",
        "kmz, document broken",
        packed("walk.kmz", {"doc.kml": kml()[:-30]}),
        "refused",
        place="line",
    ),
    Case(
        "samples",
        "kmz, leading outside",
        packed("walk.kmz", {"../doc.kml": kml()}),
        "refused",
        place="member",
    ),
    Case(
        "samples",
        "kmz, bomb",
        packed("walk.kmz", {"doc.kml": b"<kml>" + b" " * 60_000_000}),
        "refused",
        place="member",
    ),
    Case(
        "samples",
        "kmz, document with entities",
        packed("walk.kmz", {"doc.kml": entity('<!ENTITY a "b">')}),
        "refused",
        place="member doc.kml",
    ),
    _kml("decimal commas", mark("-9,1,-47,4"), "refused", place="waypoint 1"),
    _kml("decimal commas and a height", mark("-9,12,-47,45,0"), "refused", place="waypoint 1"),
    _kml(
        "two points in one placemark",
        mark("-9.1,-47.4</coordinates></Point><Point><coordinates>-9.3,-47.6"),
        "repaired",
        place="waypoint 2",
        counts=(2, 1, 1, 0),
    ),
    Case("samples", "kmz that is a kml", text("walk.kmz", kml()), "refused", whole=True),
    Case("samples", "kml that is a kmz", data("walk.kml", b"PK\x03\x04" + b"\0" * 60), "refused", whole=True),
    Case("faces", "kml, faces", text("faces.kml", kml(2)), "repaired", place="kind"),
    Case("keepouts", "gpx, keep-outs", text("wells.gpx", gpx(WPT)), "repaired", place="kind"),
]
