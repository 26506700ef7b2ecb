"""The routes without a browser: what they give, what they turn away."""

import asyncio
import io
import json
import re
import shutil
from urllib.parse import unquote

import geopandas as gpd
import numpy as np
import pytest
from PIL import Image
from starlette.applications import Starlette
from starlette.middleware import Middleware

from prospect.layerfile import LayerSource, write_layer
from prospect.ui.door import Door
from prospect.ui.routes import OPENER, routes
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


def test_a_changed_layer_is_read_anew(small_ground, tmp_path, scored):
    folder = tmp_path / "ground"
    shutil.copytree(small_ground, folder, ignore=shutil.ignore_patterns("derived"))
    space = Workspace(folder)
    before = space.frame("parcels")
    assert space.frame("parcels") is before
    frame = gpd.read_file(folder / "layers" / "parcels.gpkg").iloc[:1]
    write_layer(folder / "layers", "parcels", frame, LayerSource("parcels", "x", "2026-01-01"))
    assert len(space.frame("parcels")) == 1
