"""Samples from tables and receivers: every row is kept, mended or refused, and it is said why."""

from pathlib import Path

import geopandas as gpd
import pytest
from pyproj import Transformer
from shapely.geometry import Point

from prospect.errors import InputRefused
from prospect.sources.coordinates import read_degrees, read_position
from prospect.sources.csv_rows import read_csv_rows
from prospect.sources.numbers import read_length, read_number, read_range, unit_of_heading
from prospect.sources.points import read_points
from prospect.sources.sample_rows import read_date, read_usable
from prospect.types import Bounds

GROUND = Bounds(-83.2, 35.3, -82.9, 35.6)


@pytest.fixture
def table(tmp_path):
    def write(text, name="holes.csv", encoding="utf-8"):
        path = tmp_path / name
        path.write_bytes(text.encode(encoding) if isinstance(text, str) else text)
        return path

    return write


def places(log):
    return [(issue.severity, issue.place, issue.field) for issue in log.issues]


def test_plain_table(table):
    samples, log, source = read_points(
        table(
            "sample_id,hole_id,lon,lat,top_cm,bottom_cm,date,usable,quality,note,colour,gps_error\n"
            "A1,A,-83.05,35.45,20,45,2026-05-31,yes,0.8,fat and grey,grey,4\n"
            "A2,A,-83.05,35.45,45,60,2026-05-31,no,,sandy,,\n"
        )
    )
    first, second = samples
    assert (first.sample_id, first.hole_id, first.lon, first.lat) == ("A1", "A", -83.05, 35.45)
    assert (first.top_cm, first.bottom_cm, first.date, first.usable) == (20, 45, "2026-05-31", "yes")
    assert (first.quality, first.note, first.position_error_m) == (0.8, "fat and grey", 4)
    assert first.fields == {"colour": "grey"}
    assert (second.quality, second.position_error_m, second.usable) == (None, None, "no")
    assert (log.read, log.kept, log.verdict) == (2, 2, "accepted")
    assert source.imported == ""


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_delimiters_and_encodings(table, delimiter, encoding):
    text = "id,lon,lat,note\nTön,-83.05,35.45,grün\nB,-83.06,35.46,x\n".replace(",", delimiter)
    samples, log, _ = read_points(table(text, encoding=encoding))
    assert [s.sample_id for s in samples] == ["Tön", "B"]
    assert samples[0].note == "grün"
    assert log.verdict == ("accepted with notes" if encoding == "cp1252" else "accepted")


@pytest.mark.parametrize("quote", ["", '"'])
def test_decimal_comma(table, quote):
    cell = f"{quote}-83,0512{quote};{quote}35,4534{quote};{quote}12,5{quote}"
    samples, _, source = read_points(table(f"id;lon;lat;top_cm\n1;{cell}\n"))
    assert (samples[0].lon, samples[0].lat, samples[0].top_cm) == (-83.0512, 35.4534, 12.5)
    assert any("decimal comma" in note for note in source.notes)


def test_three_decimals_are_no_thousands(table):
    samples, _, _ = read_points(table("id;lon;lat\n1;-83,051;35,453\n"))
    assert (samples[0].lon, samples[0].lat) == (-83.051, 35.453)


def test_every_row_is_accounted_for(table):
    samples, log, _ = read_points(
        table(
            "id,lon,lat,top_cm,bottom_cm,usable,date\n"
            "A1,-83.05,35.45,10,30 cm,yes,2026-05-31\n"
            "A2,35.46,-83.04,0,1 ft,No,31.05.2026\n"
            "A1,-83.05,35.45,10,30 cm,yes,2026-05-31\n"
            "A3,-83.05,35.45,40,30,yes,\n"
            "A4,-83.05,35.45,30,40,great,\n"
            "A1,-83.05,35.45,30,40,,3/4/2026\n"
            "A5,0,0,,,,\n"
            "A6,83.01,35.47,,,,\n"
            ",,,,,,\n"
            "A7,,,1,2,yes,\n"
            "A8,-83.05,35.45,-5,2,yes,\n"
            "A9,-83.05,35.45,shallow,2,yes,\n"
        ),
        bounds=GROUND,
    )
    assert [s.sample_id for s in samples] == ["A1", "A2", "A1-2", "A6"]
    assert (log.read, log.kept, log.repaired, log.refused) == (11, 1, 3, 7)
    assert ("error", "row 5", "top_cm") in places(log)
    assert ("error", "row 6", "usable") in places(log)
    assert ("error", "row 8", "position") in places(log)
    assert ("error", "row 13", "top_cm") in places(log)
    assert all(issue.file == "holes.csv" and issue.action and issue.expected for issue in log.issues)
    assert (samples[1].lon, samples[1].lat) == (-83.04, 35.46)
    assert samples[1].bottom_cm == 30.48  # 1 ft = 30.48 cm by definition
    assert samples[2].fields["date"] == "3/4/2026"
    assert samples[3].lon == -83.01


def test_exchanged_only_on_evidence(table):
    path = table("id,lon,lat\n1,35.45,-83.05\n")
    assert read_points(path)[0][0].lon == 35.45  # a place in the Southern Ocean, too
    assert read_points(path, bounds=GROUND)[0][0].lon == -83.05
    samples, log, _ = read_points(table("id,lon,lat\n1,-35.45,149.2\n"))
    assert (samples[0].lon, samples[0].lat) == (149.2, -35.45)  # a latitude beyond 90
    assert log.repaired == 1
    samples, log, _ = read_points(table("id,lon,lat\n1,10,20\n2,-83.05,35.45\n"), bounds=GROUND)
    assert log.kept == 2
    assert "1 of 2 lie outside" in log.issues[0].action


def test_projected_coordinates(table):
    lon, lat = Transformer.from_crs("EPSG:26917", "EPSG:4326", always_xy=True).transform(318601.5, 3930332.1)
    path = table("id,easting,northing\n1,318601.5,3930332.1\n")
    samples, _, source = read_points(path, crs="EPSG:26917")
    assert (samples[0].lon, samples[0].lat) == (pytest.approx(lon), pytest.approx(lat))
    assert source.crs == "EPSG:26917"
    with pytest.raises(InputRefused, match="--crs EPSG:n"):
        read_points(path)
    with pytest.raises(InputRefused, match="a CRS such as"):
        read_points(path, crs="nonsense")


def test_mapping(table):
    path = table("Nr;Rechts;Hoch;Tiefe\n1;-83,05;35,45;20-40\n")
    with pytest.raises(InputRefused, match="Nr, Rechts, Hoch, Tiefe"):
        read_points(path)
    mapping = {"sample_id": "nr", "lon": "rechts", "lat": "hoch", "depth": "tiefe"}
    samples, _, _ = read_points(path, mapping=mapping)
    assert (samples[0].sample_id, samples[0].top_cm, samples[0].bottom_cm) == ("1", 20, 40)
    with pytest.raises(InputRefused, match="one of the columns Nr, Rechts"):
        read_points(path, mapping={"lon": "X"})


def test_headings_with_units(table):
    samples, log, _ = read_points(table("id,lon,lat,Depth (in)\n1,-83.05,35.45,10\n2,-83.05,35.46,4-12\n"))
    assert samples[0].bottom_cm == 25.4
    assert (samples[1].top_cm, samples[1].bottom_cm) == (10.16, 30.48)
    assert log.kept == 2
    assert len(log.issues) == 1  # said once for the column


def test_positions_in_one_column(table):
    samples, log, _ = read_points(
        table("id\tgps\n1\t17S 318601 3930332\n2\t35°27'12.3\"N 83°3'W\n3\t17N 318601 3930332\n4\t35.4 -83\n")
    )
    assert [s.sample_id for s in samples] == ["1", "2"]
    assert log.refused == 2


def test_hostile_cells_stay_text(table):
    payload = "=cmd|' /C calc'!A0 ${alert(1)} <script>x</script> {{7*7}}"
    samples, _, _ = read_points(table(f'id,lon,lat,note,extra\n"{payload}",-83,35,"{payload}","{payload}"\n'))
    assert samples[0].note == payload
    assert samples[0].fields["extra"] == payload
    samples, _, _ = read_points(table("id,lon,lat,note\n1,-83,35,'=1+1\n"))
    assert samples[0].note == "=1+1"  # exactly what our own export added is taken off again


def test_twice_the_same_heading_and_too_many_cells(table):
    samples, log, _ = read_points(table("id,lon,lat,note,note\n1,-83,35,a,b,c\n"))
    assert samples[0].note == "a"
    assert samples[0].fields == {"note (2)": "b"}
    assert log.repaired == 1


@pytest.mark.parametrize(
    "content",
    [b"id,lon,lat\n", b"\n\n", b"id,lon,lat\n1,\x00\x01\x02", b"lon\n1\n", b"{}", b"a,b\n1,2\n"],
)
def test_no_table_of_points(table, content):
    with pytest.raises(InputRefused):
        read_points(table(content))


# GPX 1.1 and 1.0 (topografix.com schema), KML 2.2 (OGC 07-147r2)
GPX = """<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="35.45" lon="-83.05"><ele>600</ele><time>2026-05-31T10:00:00Z</time><name>P01</name><desc>grey</desc>
<extensions><usable xmlns="urn:x">yes</usable></extensions></wpt>
<wpt lat="95" lon="-83.05"><name>P02</name></wpt><trk><trkseg><trkpt lat="1" lon="1"/></trkseg></trk></gpx>"""


def test_gpx(table):
    samples, log, _ = read_points(table(GPX, "walk.gpx"))
    first = samples[0]
    assert (first.sample_id, first.lon, first.lat) == ("P01", -83.05, 35.45)
    assert (first.date, first.usable) == ("2026-05-31", "yes")
    assert samples[0].fields == {"ele": "600"}
    assert log.read == 2
    old = GPX.replace("GPX/1/1", "GPX/1/0").replace('version="1.1"', 'version="1.0"')
    assert len(read_points(table(old, "old.gpx"))[0]) == len(samples)
    bare = GPX.replace(' xmlns="http://www.topografix.com/GPX/1/1"', "")
    assert len(read_points(table(bare, "bare.gpx"))[0]) == len(samples)


def test_kml_and_kmz(table, tmp_path):
    import zipfile

    kml = """<kml xmlns="http://www.opengis.net/kml/2.2"><Document><Folder><Placemark><name>K1</name>
    <description><![CDATA[<b>hi</b><script>x()</script>]]></description>
    <ExtendedData><Data name="usable"><value>no</value></Data></ExtendedData>
    <Point><coordinates>-83.05,35.45,600</coordinates></Point></Placemark>
    <Placemark><name>line</name><LineString><coordinates>0,0 1,1</coordinates></LineString></Placemark>
    </Folder><NetworkLink><Link><href>http://example.invalid/</href></Link></NetworkLink></Document></kml>"""
    samples, log, _ = read_points(table(kml, "a.kml"))
    assert (samples[0].sample_id, samples[0].usable, samples[0].note) == ("K1", "no", "hi x()")
    assert log.read == 1
    with zipfile.ZipFile(tmp_path / "a.kmz", "w") as archive:
        archive.writestr("doc.kml", kml)
    assert read_points(tmp_path / "a.kmz")[0] == samples


def test_vector_file(tmp_path):
    frame = gpd.GeoDataFrame(
        {"id": [7, 8], "usable": ["yes", "purple"], "depth_cm": [30.0, None], "extra": ["x", None]},
        geometry=[Point(318601.5, 3930332.1), Point(318700, 3930400)],
        crs="EPSG:26917",
    )
    frame.to_file(tmp_path / "a.gpkg", driver="GPKG")
    samples, log, _ = read_points(tmp_path / "a.gpkg")
    lon, lat = Transformer.from_crs("EPSG:26917", "EPSG:4326", always_xy=True).transform(318601.5, 3930332.1)
    assert (samples[0].lon, samples[0].lat) == (pytest.approx(lon), pytest.approx(lat))
    assert (samples[0].sample_id, samples[0].bottom_cm, samples[0].fields) == ("7", 30, {"extra": "x"})
    assert (log.read, log.kept, log.refused) == (2, 1, 1)


@pytest.mark.parametrize(
    ("text", "axis", "value"),
    [
        # degrees + minutes/60 + seconds/3600, by hand
        ("35.4521", "lat", 35.4521),
        ("-83.1", "lon", -83.1),
        ("83.1 W", "lon", -83.1),
        ("35°27'12.3\"N", "lat", 35 + 27 / 60 + 12.3 / 3600),
        ("35 27 12.3 N", "lat", 35 + 27 / 60 + 12.3 / 3600),
        ("N35 27.205", "lat", 35 + 27.205 / 60),
        ("33°52′S", "lat", -(33 + 52 / 60)),
        ("−83º 3′ 0″", "lon", -83.05),
        ("35 61 0", "lat", None),
        ("35 27 60", "lat", None),
        ("35.5 27", "lat", None),
        ("83 W", "lat", None),
        ("north", "lat", None),
        ("", "lat", None),
    ],
)
def test_degrees(text, axis, value):
    found = read_degrees(text, axis)
    assert found is None if value is None else found == pytest.approx(value)


def test_utm_against_pyproj():
    lon, lat = Transformer.from_crs("EPSG:32756", "EPSG:4326", always_xy=True).transform(334873, 6252266)
    assert read_position("56H 334873 6252266") == (pytest.approx(lon), pytest.approx(lat))
    assert read_position("56S 334873 6252266") is None  # S is a band in the north, not "south"
    assert read_position("61H 334873 6252266") is None
    assert read_position("35.4, -83") is None  # which comes first is not known


@pytest.mark.parametrize(
    ("square", "utm"),
    [
        # textbook pairs, from memory: the first is a common worked example of the military grid reference system
        ("4QFJ 12345 67890", "4Q 612345.5 2367890.5"),
        ("17SLV1860130332", "17S 318601.5 3930332.5"),
        ("33XVG74594359", "33X 474595 8643595"),
    ],
)
def test_military_grid(square, utm):
    assert read_position(square) == pytest.approx(read_position(utm), abs=1e-9)
    assert read_position("17SLV186") is None
    assert read_position("17SAV1860130332") is None


@pytest.mark.parametrize(
    ("text", "comma", "value"),
    [
        ("1,234.5", False, 1234.5),
        ("1.234,5", False, 1234.5),
        ("1,234", False, 1234),
        ("1,234", True, 1.234),
        ("0,123", False, 0.123),
        ("12,5", False, 12.5),
        ("1 234", False, 1234),
        ("1,234,567", False, 1234567),
        ("1e3", False, 1000),
        ("−5", False, -5),
        ("12abc", False, None),
        ("1e999", False, None),
        ("nan", False, None),
        ("1,2,3", False, None),
    ],
)
def test_numbers(text, comma, value):
    assert read_number(text, decimal_comma=comma) == value


def test_lengths():
    assert read_length("30 cm", "cm") == 30
    assert read_length("1 ft", "cm") == pytest.approx(30.48)
    assert read_length('12"', "cm") == pytest.approx(30.48)
    assert read_length("0,3 m", "cm") == pytest.approx(30)
    assert read_length("3 furlongs", "cm") is None
    assert read_range("20–40 cm", "cm") == (20, 40)
    assert read_range("1 to 2 ft", "cm") == (pytest.approx(30.48), pytest.approx(60.96))
    assert read_range("30", "cm") is None
    assert unit_of_heading("Depth (in)") == "in"
    assert unit_of_heading("top_cm") == "cm"
    assert unit_of_heading("origin") == ""


def test_dates_and_verdicts():
    assert read_date("2026-05-31T10:00Z") == ("2026-05-31", False)
    assert read_date("20260531") == ("2026-05-31", True)
    assert read_date("31.5.2026") == ("2026-05-31", True)
    assert read_date("31/05/2026") == ("2026-05-31", True)
    assert read_date("05/31/2026") == ("2026-05-31", True)
    assert read_date("04/05/2026") is None  # day or month first is not known
    assert read_date("2026-13-01") is None
    assert read_date("spring") is None
    assert [read_usable(word) for word in ("Yes", "no.", "", "?", "great")] == [
        "yes",
        "no",
        "unknown",
        "unknown",
        None,
    ]


def test_limits(table):
    with pytest.raises(InputRefused, match="characters in a cell"):
        read_csv_rows(table("id,lon,lat,note\n1,-83,35," + "x" * 40_000 + "\n"), "samples")
    with pytest.raises(InputRefused, match="columns"):
        read_csv_rows(table(",".join(f"c{i}" for i in range(400)) + "\n1\n"), "samples")


class TestCommas:
    def test_thousands_in_metres_are_no_decimals(self, tmp_path: Path) -> None:
        path = tmp_path / "holes.csv"
        path.write_text('id;x;y\nA;"318,601";"930,332"\nB;318,700;3,930,400\n', "utf-8")
        samples, _, _ = read_points(path, crs="EPSG:32617")
        # Checked with pyproj, UTM zone 17 north.
        back = Transformer.from_crs("EPSG:4326", "EPSG:32617", always_xy=True)
        assert back.transform(samples[1].lon, samples[1].lat) == pytest.approx((318_700, 3_930_400), abs=0.1)
        assert back.transform(samples[0].lon, samples[0].lat) == pytest.approx((318_601, 930_332), abs=0.1)

    def test_exchanged_metres_are_put_right_on_the_ground_only(self, tmp_path: Path) -> None:
        path = tmp_path / "holes.csv"
        path.write_text("id,x,y\nA,3930332,318601\n", "utf-8")
        ground = Bounds(-83.1, 35.4, -82.9, 35.6)
        samples, log, _ = read_points(path, crs="EPSG:32617", bounds=ground)
        assert log.repaired == 1
        assert log.issues[0].value == "3930332, 318601"
        assert ground.contains(samples[0].lon, samples[0].lat)


def test_depths_that_may_be_metres_are_said(tmp_path: Path) -> None:
    path = tmp_path / "holes.csv"
    path.write_text("id,lon,lat,depth\nA,-9,-47,0.6\nB,-9,-47.1,1.2\n", "utf-8")
    _, log, _ = read_points(path)
    assert [issue.field for issue in log.issues] == ["depth"]
    path.write_text("id,lon,lat,depth_cm\nA,-9,-47,0.6\n", "utf-8")
    assert not read_points(path)[1].issues


def test_one_exchanged_point_of_a_layer_is_put_right_on_the_ground(tmp_path: Path) -> None:
    path = tmp_path / "holes.geojson"
    frame = gpd.GeoDataFrame({"id": ["A", "B"]}, geometry=[Point(-9, -47), Point(-47, -9)], crs="EPSG:4326")
    frame.to_file(path)
    samples, log, _ = read_points(path, bounds=Bounds(-9.1, -47.1, -8.9, -46.9))
    assert [(sample.lon, sample.lat) for sample in samples] == [(-9, -47), (-9, -47)]
    assert (log.kept, log.repaired) == (1, 1)


@pytest.mark.parametrize(("encoding", "said"), [("utf-8", 0), ("cp1252", 1)])
def test_a_shapefile_that_does_not_say_its_encoding(tmp_path: Path, encoding: str, said: int) -> None:
    frame = gpd.GeoDataFrame({"id": ["Grünton"]}, geometry=[Point(-9, -47)], crs="EPSG:4326")
    frame.to_file(tmp_path / "holes.shp", encoding=encoding)
    (tmp_path / "holes.cpg").unlink()
    samples, log, _ = read_points(tmp_path / "holes.shp")
    assert samples[0].sample_id == "Grünton"
    assert len(log.issues) == said
