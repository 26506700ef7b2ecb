"""The routes without a browser: what they give, what they turn away."""

import asyncio
import io
import json
import re
import shutil
from urllib.parse import quote, unquote

import geopandas as gpd
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from PIL import Image
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.routing import Mount

from prospect.layerfile import LayerSource, write_layer
from prospect.ui import visitor as visitors
from prospect.ui.door import Door
from prospect.ui.routes import OPENER, _Files, routes
from prospect.ui.visitor import HEADER, Opening
from prospect.ui.workspace import Workspace


class Answer:
    """Status, headers and body of one answer."""

    def __init__(self, messages):
        start = next(message for message in messages if message["type"] == "http.response.start")
        self.status_code = start["status"]
        self.headers = {name.decode().lower(): value.decode() for name, value in start["headers"]}
        self.content = b"".join(m.get("body", b"") for m in messages if m["type"] == "http.response.body")
        self.text = self.content.decode("utf-8", "replace")

    def json(self):
        return json.loads(self.text)


class Client:
    """Speaks to an app by the ASGI specification (3.0, HTTP), without a server between."""

    def __init__(self, app, host="127.0.0.1", token="", headers=()):
        self.app, self.host, self.token, self.headers = app, host, token, headers

    def get(self, address, method="GET"):
        path, _, query = address.partition("?")
        if self.token and path.startswith("/data/"):
            query = f"{query}&{OPENER}={self.token}"
        scope = {
            "type": "http",
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http",
            "path": unquote(path),
            "raw_path": path.encode(),
            "query_string": query.encode(),
            "root_path": "",
            "headers": [(b"host", self.host.encode()), *self.headers],
            "client": ("127.0.0.1", 1),
            "server": ("127.0.0.1", 80),
        }
        sent = []

        asked = []

        async def receive():
            if asked:
                await asyncio.Event().wait()  # a visitor who waits for the answer and sends nothing more
            asked.append(True)
            return {"type": "http.request", "body": b"", "more_body": False}

        async def send(message):
            sent.append(message)

        asyncio.run(self.app(scope, receive, send))
        return Answer(sent)

    def post(self, address):
        return self.get(address, "POST")


@pytest.fixture(scope="module")
def space(small_ground):
    return Workspace(small_ground)


@pytest.fixture(scope="module")
def scored(space):
    return space.scored("any")


@pytest.fixture(scope="module")
def client(space, scored):
    return Client(Starlette(routes=routes(space)), token=space.token)


def address(scored, zoom=13):
    lon, lat = scored.grid.to_lonlat(*scored.grid.xy(scored.grid.rows / 2, scored.grid.cols / 2))
    n = 2**zoom  # the usual formula of the spherical mercator tile scheme, common practice
    return zoom, int((lon + 180) / 360 * n), int((1 - np.arcsinh(np.tan(np.radians(lat))) / np.pi) / 2 * n)


def view(scored):
    return ",".join(f"{edge:.6f}" for edge in scored.grid.lonlat_bounds())


@pytest.mark.parametrize("layer", ["best", "known", "relief", "residual"])
def test_tiles_are_pictures_that_may_be_kept(client, scored, layer):
    z, x, y = address(scored)
    answer = client.get(f"/tiles/{layer}/{scored.revision}/{z}/{x}/{y}.png")
    if layer == "known" and answer.status_code == 204:
        pytest.fail("the hatch must reach wherever the ground does")
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "image/png"
    assert "immutable" in answer.headers["cache-control"]
    assert Image.open(io.BytesIO(answer.content)).size == (256, 256)


def test_elsewhere_there_is_nothing_to_show(client, scored):
    assert client.get(f"/tiles/best/{scored.revision}/13/0/0.png").status_code == 204


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/tiles/best/nothing/13/1/1.png", 404),
        ("/tiles/secrets/{revision}/13/1/1.png", 404),
        ("/tiles/best/{revision}/40/1/1.png", 400),
        ("/tiles/best/{revision}/3/99/1.png", 400),
        ("/tiles/best/{revision}/3/-1/1.png", 400),
        ("/tiles/best/{revision}/3/" + "1" * 5000 + "/1.png", 400),
        ("/data/records.geojson?bbox=0,0,1,1&z=3", 404),
        ("/data/..%2Frecords.geojson?bbox=0,0,1,1&z=3", 404),
        ("/data/parcels.geojson", 400),
        ("/data/parcels.geojson?bbox=0,0,1&z=3", 400),
        ("/data/parcels.geojson?bbox=0,0,nan,1&z=3", 400),
        ("/data/parcels.geojson?bbox=1,0,0,1&z=3", 400),
        ("/data/parcels.geojson?bbox=0,0,1,1&z=inf", 400),
        ("/data/parcels.geojson?bbox=0,0,1,1&z=999", 400),
        ("/data/water.geojson?bbox=0,0,1,1&z=3", 404),
        ("/data/sites.geojson?bbox=0,0,1,1&z=3&revision=x", 404),
        ("/data/sites.geojson?bbox=0,0,1,1&z=3&revision={revision}&deposit=nonsense", 404),
        ("/data/parcels.geojson?bbox=0,0,1,1&z=3&v=" + "9" * 201, 400),
        ("/assets/claywalk/../routes.py", 404),
        ("/assets/claywalk/%2e%2e/routes.py", 404),
    ],
)
def test_what_is_not_offered_is_turned_away(client, scored, path, status):
    assert client.get(path.format(revision=scored.revision)).status_code == status


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS"])
@pytest.mark.parametrize(
    "path", ["/data/parcels.geojson?bbox=0,0,1,1&z=3", "/tiles/best/{revision}/13/1/1.png"]
)
def test_nothing_can_be_sent(client, scored, path, method):
    assert client.get(path.format(revision=scored.revision), method).status_code == 405


@pytest.mark.parametrize("told", ["", "&t=", "&t=wrong", "&t=%C3%A9", "&t={token}x", "&t={token}&t=wrong"])
def test_no_data_without_this_starts_token(space, scored, told):
    stranger = Client(Starlette(routes=routes(space)))
    for layer in ("parcels", "samples", "sites", "nothing"):
        asked = f"/data/{layer}.geojson?bbox={view(scored)}&z=14" + told.format(token=space.token)
        answer = stranger.get(asked)
        assert answer.status_code == 403
        assert "Ashdown" not in answer.text
        assert space.token not in answer.text


def test_every_start_has_a_token_of_its_own(small_ground):
    tokens = {Workspace(small_ground).token for _ in range(50)}
    assert len(tokens) == 50
    assert min(map(len, tokens)) >= 32  # 24 random bytes
    assert not any(token in repr(Workspace(small_ground, token=token)) for token in tokens)


@pytest.mark.parametrize(("site", "status"), [("cross-site", 403), ("same-site", 403), ("same-origin", 200)])
def test_another_page_in_the_same_browser_gets_nothing(space, scored, site, status):
    # W3C Fetch Metadata Request Headers: a page on another port of this machine is "same-site".
    page = Client(
        Starlette(routes=routes(space)), token=space.token, headers=[(b"sec-fetch-site", site.encode())]
    )
    assert page.get(f"/data/parcels.geojson?bbox={view(scored)}&z=14").status_code == status
    z, x, y = address(scored)
    assert page.get(f"/tiles/best/{scored.revision}/{z}/{x}/{y}.png").status_code == status


@pytest.mark.parametrize(
    "path", ["/data/parcels.geojson?bbox=%3Cscript%3E,0,0,1&z=3", "/data/x.geojson?bbox=0,0,1,1&z=3"]
)
def test_a_refusal_repeats_nothing_and_is_plain_text(client, path):
    # Fetch standard: nosniff and Cross-Origin-Resource-Policy keep an answer from being run or laid in elsewhere.
    answer = client.get(path)
    assert answer.status_code in (400, 404)
    assert "<" not in answer.text
    assert answer.headers["content-type"].startswith("text/plain")
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cross-origin-resource-policy"] == "same-origin"
    assert "access-control-allow-origin" not in answer.headers


def test_layers_by_view(client, scored):
    answer = client.get(f"/data/parcels.geojson?bbox={view(scored)}&z=14")
    assert answer.headers["cache-control"] == "no-store"
    owners = {feature["properties"]["owner"] for feature in answer.json()["features"]}
    assert "Mirel Ashdown" in owners


def test_rocks_bring_their_colour_and_how_they_were_read(client, scored):
    features = client.get(f"/data/geology.geojson?bbox={view(scored)}&z=13").json()["features"]
    by_unit = {feature["properties"]["unit"]: feature["properties"] for feature in features}
    assert by_unit["Kg"]["pattern"] == "crosses"
    assert by_unit["Ls"]["pattern"] == "bricks"
    assert re.fullmatch("#[0-9A-F]{6}", by_unit["Kg"]["colour"])
    assert "granite" in by_unit["Kg"]["read_as"]


def test_sites_and_samples(client, space, scored):
    sites = space.sites(scored, "")
    answer = client.get(f"/data/sites.geojson?bbox={view(scored)}&z=13&revision={scored.revision}&deposit=")
    assert {f["properties"]["site"] for f in answer.json()["features"]} == {site.site for site in sites}
    samples = client.get(f"/data/samples.geojson?bbox={view(scored)}&z=13").json()["features"]
    assert {f["properties"]["sample"] for f in samples} == {"A1", "A2"}


def test_the_maps_files_come_from_installed_packages(client):
    assert "Leaflet 1.9" in client.get("/assets/leaflet/leaflet.js").text
    assert client.get("/assets/leaflet/leaflet.css").status_code == 200
    own = client.get("/assets/claywalk/map.js").text
    assert "innerHTML" not in own
    assert "http" not in re.sub(r"http://www\.w3\.org/2000/svg", "", own)


def test_a_request_in_another_name_is_turned_away(space):
    # A page elsewhere that points its own name at this machine sends that name as Host (RFC 9110 §7.2).
    guarded = Starlette(routes=routes(space), middleware=[Middleware(Door)])
    assert Client(guarded, "evil.example").get("/assets/claywalk/map.js").status_code == 400
    assert Client(guarded, "127.0.0.1:8501").get("/assets/claywalk/map.js").status_code == 200


def test_hostile_names_travel_verbatim_and_inert(small_ground, tmp_path, hostile, scored):
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived"))
    parcels = gpd.read_file(small_ground / "layers" / "parcels.gpkg").assign(owner=hostile, parcel_id=hostile)
    write_layer(folder / "layers", "parcels", parcels, LayerSource("parcels", "x", "2026-01-01"))
    space = Workspace(folder)
    client = Client(Starlette(routes=routes(space)), token=space.token)
    answer = client.get(f"/data/parcels.geojson?bbox={view(scored)}&z=14")
    assert all(f["properties"]["owner"] == hostile for f in json.loads(answer.text)["features"])
    assert not any(piece in answer.text for piece in ("<", "{{", "${", "`"))


NAMED = st.sampled_from(
    ["best", "relief", "parcels", "sites", "samples", "geology", "soil", "outline", "{revision}"]
)
NUMBER = st.one_of(
    st.integers().map(str),
    st.floats().map(str),
    st.sampled_from(["13", "", "-0", "٣", "1_0", "1e400", "9" * 5000]),
)
WORD = st.one_of(NAMED, NUMBER, st.text(max_size=30))


@settings(max_examples=400, deadline=None)
@given(layer=WORD, revision=WORD, z=WORD, x=WORD, y=WORD)
def test_no_tile_address_makes_the_program_fail(client, scored, layer, revision, z, x, y):
    parts = [part.replace("{revision}", scored.revision) for part in (layer, revision, z, x, y)]
    address = "/tiles/" + "/".join(quote(part, safe="") for part in parts) + ".png"
    assert client.get(address).status_code in (200, 204, 400, 404)


@settings(max_examples=400, deadline=None)
@given(
    layer=WORD,
    asked=st.dictionaries(
        st.one_of(st.sampled_from(["bbox", "z", "revision", "deposit", "v"]), st.text()), WORD
    ),
    box=st.lists(st.one_of(st.floats(-200, 200).map(str), WORD), min_size=3, max_size=5).map(",".join),
    method=st.sampled_from(["GET", "HEAD"]),
)
def test_no_data_address_makes_the_program_fail(client, scored, layer, asked, box, method):
    told = {"bbox": box, "z": "14", **asked}
    pairs = ((name, value.replace("{revision}", scored.revision)) for name, value in told.items())
    query = "&".join(f"{quote(name, safe='')}={quote(value, safe='')}" for name, value in pairs)
    answer = client.get(f"/data/{quote(layer, safe='')}.geojson?{query}", method)
    assert answer.status_code in (200, 400, 403, 404)  # 403: an argument of the token's own name
    assert "Traceback" not in answer.text


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A folder with a file, a link to a secret beside it, and a link to the folder above."""
    home = tmp_path_factory.mktemp("files")
    served = home / "served"
    served.mkdir()
    (served / "map.js").write_text("ours", encoding="utf-8")
    (home / "secret.txt").write_text("hidden", encoding="utf-8")
    (served / "link.txt").symlink_to(home / "secret.txt")
    (served / "up").symlink_to(home)
    return Client(Starlette(routes=[Mount("/assets", _Files(directory=served))]))


UPWARD = ["..", ".", "%2e%2e", "..%2f", "..%5c", "\\", "..\\", "%c0%ae%c0%ae", "%252e%252e"]
STEP = st.sampled_from(
    [*UPWARD, "%00", "map.js", "link.txt", "up", "secret.txt", "~", "C:", "", "etc", "passwd", "a" * 300]
)


@settings(max_examples=600, deadline=None)
@given(steps=st.lists(STEP, min_size=1, max_size=6), slash=st.sampled_from(["/", "//", "\\", "%2f"]))
def test_no_way_out_of_the_served_folder(files, steps, slash):
    # CWE-22 and CWE-59: steps upward in every spelling, links, NUL.
    answer = files.get("/assets/" + slash.join(steps))
    assert answer.status_code in (200, 404, 405)
    assert "hidden" not in answer.text
    assert "root:" not in answer.text


def test_files_are_asked_about_before_they_are_used_again(files):
    answer = files.get("/assets/map.js")
    assert answer.headers["cache-control"] == "no-cache"
    assert answer.headers["etag"]
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert files.get("/assets/map.js", "POST").status_code == 405


def test_head_is_answered_like_get(client, scored):
    # RFC 9110 §9.3.2: the same headers; the server leaves the body out.
    for path in (
        f"/data/parcels.geojson?bbox={view(scored)}&z=14",
        f"/tiles/best/{scored.revision}/13/0/0.png",
    ):
        got, asked = client.get(path), client.get(path, "HEAD")
        assert (asked.status_code, asked.headers) == (got.status_code, got.headers)


@pytest.mark.parametrize("owners", [False, True])
def test_another_device_gets_owners_only_when_allowed(space, scored, owners):
    opening = Opening(("http://192.168.4.20:8501",), owners=owners)
    visitors.open_to_network(opening)
    try:
        for mark, sees in ((opening.own_word, True), ("another device", owners), ("", owners)):
            asking = Client(
                Starlette(routes=routes(space)), token=space.token, headers=[(HEADER.encode(), mark.encode())]
            )
            asked = f"/data/parcels.geojson?bbox={view(scored)}&z=14"
            for more in ("", "&owner=yes", f"&{HEADER}={opening.own_word}"):
                answer = asking.get(asked + more)
                assert answer.status_code == 200
                assert ("Mirel Ashdown" in answer.text) is sees
                assert {f["properties"]["parcel_id"] for f in answer.json()["features"]} >= {"001", "002"}
    finally:
        visitors.open_to_network(None)


def test_a_changed_layer_is_read_anew(small_ground, tmp_path, scored):
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived"))
    space = Workspace(folder)
    before = space.frame("parcels")
    assert space.frame("parcels") is before
    frame = gpd.read_file(folder / "layers" / "parcels.gpkg").iloc[:1]
    write_layer(folder / "layers", "parcels", frame, LayerSource("parcels", "x", "2026-01-01"))
    assert len(space.frame("parcels")) == 1


def test_the_maps_own_name_leads_to_the_map_and_nowhere_else(client):
    for asked, place in (
        ("/ground", "/"),
        ("/ground?looked=a&x=//evil.example", "/?looked=a&x=//evil.example"),
    ):
        answer = client.get(asked)
        assert (answer.status_code, answer.headers["location"]) == (307, place)
