"""The gate, at the level of its protocol: who comes in, how, and what a stranger learns."""

import asyncio
import re
from urllib.parse import urlencode

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from starlette.applications import Starlette
from starlette.responses import PlainTextResponse
from starlette.routing import Route, WebSocketRoute

from prospect.ui import gate as gates
from prospect.ui import visitor as visitors
from prospect.ui.door import Door
from prospect.ui.gate import LET_IN, Gate, Lock, Tries
from prospect.ui.visitor import HEADER, Opening, visitor_marked

WORDS = "heron sluice kiln 73"
HERE, PHONE, PORT = "192.168.4.20", "192.168.4.77", 8501
PLACE = f"http://{HERE}:{PORT}"
SECRET = "all that lies behind"


class Clock:
    def __init__(self):
        self.now = 1000.0
        self.rested = []

    def __call__(self):
        return self.now

    async def rest(self, seconds):
        self.rested.append(seconds)


async def behind(request):
    return PlainTextResponse(f"{SECRET} {request.headers.getlist(HEADER)}")


async def socket_behind(socket):
    await socket.accept()
    await socket.send_text(f"{SECRET} {socket.headers.getlist(HEADER)}")
    await socket.close()


BEHIND = Starlette(
    routes=[
        WebSocketRoute("/_stcore/stream", socket_behind),
        Route("/{path:path}", behind, methods=["GET", "POST", "PUT", "DELETE"]),
    ]
)


class Ask:
    """Speaks to an app by the ASGI specification (3.0) as a device of one address."""

    def __init__(self, app, client=PHONE, server=HERE, host=f"{HERE}:{PORT}", origin=PLACE):
        self.app, self.client, self.server, self.host, self.origin = app, client, server, host, origin
        self.cookie = ""

    def __call__(self, path="/", method="GET", body=b"", kind="http", more=(), host=None, origin=None):
        headers = [(b"host", (host or self.host).encode("latin-1"))]
        said = self.origin if origin is None else origin
        if said and (kind == "websocket" or method not in ("GET", "HEAD")):
            headers.append((b"origin", said.encode("latin-1")))
        if self.cookie:
            headers.append((b"cookie", self.cookie.encode("latin-1")))
        if body:
            headers.append((b"content-type", b"application/x-www-form-urlencoded"))
        scope = {
            "type": kind,
            "asgi": {"version": "3.0"},
            "http_version": "1.1",
            "method": method,
            "scheme": "http" if kind == "http" else "ws",
            "path": path,
            "raw_path": path.encode(),
            "query_string": b"",
            "root_path": "",
            "headers": [*headers, *more],
            "client": (self.client, 50000),
            "server": (self.server, PORT),
            "subprotocols": [],
        }
        if kind == "websocket":
            del scope["method"]
        sent, given_ = [], []

        async def receive():
            if kind == "websocket":
                return {"type": "websocket.connect"}
            if given_:
                await asyncio.Event().wait()
            given_.append(True)
            return {"type": "http.request", "body": body, "more_body": False}

        async def send(message):
            sent.append(message)

        asyncio.run(self.app(scope, receive, send))
        return Answer(sent)

    def tell(self, words, **named):
        return self(LET_IN, "POST", urlencode({"words": words}).encode(), **named)

    def come_in(self, words=WORDS):
        answer = self.tell(words)
        self.cookie = answer.headers["set-cookie"].split(";")[0]
        return answer


class Answer:
    def __init__(self, sent):
        self.kinds = [message["type"] for message in sent]
        start = next((message for message in sent if "headers" in message), {})
        self.status = start.get("status")
        self.headers = {name.decode().lower(): value.decode() for name, value in start.get("headers", [])}
        self.text = b"".join(m.get("body", b"") for m in sent).decode() + "".join(
            m.get("text", "") or "" for m in sent
        )

    @property
    def opened(self):
        return "websocket.accept" in self.kinds


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def gate(clock):
    return Gate(BEHIND, Opening((PLACE,)), Lock(WORDS, clock), clock, clock.rest)


@pytest.fixture
def phone(gate):
    return Ask(gate)


@pytest.fixture
def own(gate):
    return Ask(gate, "127.0.0.1", "127.0.0.1", f"127.0.0.1:{PORT}", f"http://127.0.0.1:{PORT}")


EVERYTHING = (
    "/",
    "/layers",
    "/_stcore/health",
    "/_stcore/host-config",
    "/data/parcels.geojson",
    "/assets/x.js",
)


@pytest.mark.parametrize(
    "path", [*EVERYTHING, "/tiles/a/b/1/1/1.png", "/_stcore/upload_file/a/b", LET_IN, "/media/x"]
)
def test_a_stranger_sees_only_the_question(phone, path):
    answer = phone(path)
    assert answer.status == 401
    assert SECRET not in answer.text
    assert "Passphrase" in answer.text
    assert "set-cookie" not in answer.headers
    assert "script" not in re.sub("<style>.*?</style>", "", answer.text, flags=re.DOTALL)
    assert answer.headers["cache-control"] == "no-store"
    assert "default-src 'none'" in answer.headers["content-security-policy"]


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "POST"])
def test_a_stranger_can_send_nothing(phone, method):
    answer = phone("/_stcore/upload_file/a/b", method)
    assert answer.status == 401
    assert SECRET not in answer.text


def test_a_strangers_socket_is_shut_before_it_opens(phone):
    # RFC 6455 §4.2.2: a server that does not accept sends an ordinary HTTP answer.
    answer = phone("/_stcore/stream", kind="websocket")
    assert answer.kinds == ["websocket.close"]


def test_the_right_words_let_a_device_in(phone):
    answer = phone.come_in()
    assert answer.status == 303
    assert answer.headers["location"] == "/"
    cookie = answer.headers["set-cookie"].lower()
    # RFC 6265bis §5.6: no script reads it, and no other site's page makes the browser send it.
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "max-age=43200" in cookie
    for path in EVERYTHING:
        assert SECRET in phone(path).text
    assert phone("/_stcore/stream", kind="websocket").opened


@pytest.mark.parametrize(
    "words",
    ["Heron Sluice Kiln 73", " heron  sluice kiln 73\n", "heron-sluice-kiln-73", "HERON SLUICE KILN 73"],
)
def test_what_a_phones_keyboard_adds_does_not_count(phone, words):
    assert phone.tell(words).status == 303


@pytest.mark.parametrize(
    "words",
    [
        "",
        "heron",
        "heron sluice kiln 7",
        "heron sluice kiln 733",
        "heronsluicekiln73",
        "73 kiln sluice heron",
    ],
)
def test_other_words_do_not(phone, words):
    answer = phone.tell(words)
    assert answer.status in (400, 401)
    assert "set-cookie" not in answer.headers


def test_nothing_that_was_typed_comes_back(phone):
    answer = phone.tell("<b>a hostile guess</b> of words")
    assert answer.status == 401
    assert "hostile" not in answer.text
    assert "9 more tries" in answer.text


def test_a_passphrase_is_long_enough():
    for words in ("", "short", "eleven char", "a          b"):
        with pytest.raises(ValueError, match="12 characters"):
            Lock(words)


@pytest.mark.parametrize(
    "forged",
    [
        "99999999.x.{seal}",
        "{content}.",
        "{content}.{seal}0",
        "9{content}.{seal}",
        "inf.x.{seal}",
        "..",
        "",
        "\xe9.\xe9.\xe9",
    ],
)
def test_a_pass_cannot_be_made_or_changed(gate, phone, forged):
    phone.come_in()
    name, _, value = phone.cookie.partition("=")
    content, _, seal = value.rpartition(".")
    phone.cookie = f"{name}={forged.format(content=content, seal=seal)}"
    assert phone().status == 401


def test_a_pass_is_of_one_start_and_twelve_hours(phone, clock):
    phone.come_in()
    stranger = Ask(Gate(BEHIND, Opening((PLACE,)), Lock(WORDS, clock), clock, clock.rest))
    stranger.cookie = phone.cookie
    assert stranger().status == 401
    clock.now += 12 * 3600 - 5
    assert phone().status == 200
    clock.now += 10
    assert phone().status == 401


def test_a_socket_ends_with_its_pass(clock, monkeypatch):
    async def endless(socket):
        await socket.accept()
        await asyncio.Event().wait()

    app = Starlette(routes=[WebSocketRoute("/", endless)])
    monkeypatch.setattr(gates, "LASTS_S", 1.0)
    phone = Ask(Gate(app, Opening((PLACE,)), Lock(WORDS, clock), clock, clock.rest))
    phone.come_in()
    clock.now += 0.7
    assert phone(kind="websocket").opened  # and it returned


def test_wrong_tries_take_longer_and_longer_and_then_wait(phone, clock):
    for _ in range(9):
        assert phone.tell("some other words").status == 401
    assert clock.rested == [0.25, 0.5, 1, 2, 4, 8, 8, 8, 8]
    last = phone.tell("some other words")
    assert last.status == 429
    assert "Too many wrong tries. Wait 10 minutes" in last.text
    assert int(last.headers["retry-after"]) == 600
    assert phone.tell(WORDS).status == 429, "not even the right words, so that guessing stays slow"
    clock.now += 601
    assert phone.tell(WORDS).status == 303


def test_the_right_words_wipe_the_slate(phone):
    for _ in range(9):
        phone.tell("some other words")
    phone.tell(WORDS)
    phone.cookie = ""
    assert "9 more tries" in phone.tell("some other words").text


def test_many_devices_together_are_held_back_too(gate, clock):
    statuses = [
        Ask(gate, f"192.168.4.{30 + number // 9}").tell("some other words").status for number in range(61)
    ]
    assert statuses[:59] == [401] * 59
    assert statuses[59:] == [429] * 2
    inside = Ask(gate, "127.0.0.1", "127.0.0.1", f"127.0.0.1:{PORT}")
    assert SECRET in inside().text, "this machine itself is never held back"


def test_a_flood_at_once_counts_before_it_is_answered(clock, figures):
    tries = []

    async def slow(seconds):
        tries.append(seconds)
        await asyncio.sleep(0.01)

    gate = Gate(BEHIND, Opening((PLACE,)), Lock(WORDS, clock), clock, slow)

    async def one(answers):
        async def receive():
            return {"type": "http.request", "body": b"words=some+other+words", "more_body": False}

        async def send(message):
            answers.append(message.get("status"))

        scope = {
            "type": "http",
            "method": "POST",
            "path": LET_IN,
            "query_string": b"",
            "headers": [
                (b"host", f"{HERE}:{PORT}".encode()),
                (b"origin", PLACE.encode()),
                (b"content-type", b"application/x-www-form-urlencoded"),
            ],
            "client": (PHONE, 1),
            "server": (HERE, PORT),
        }
        await gate(scope, receive, send)

    async def flood():
        answers = []
        await asyncio.gather(*(one(answers) for _ in range(200)))
        return answers

    asyncio.run(flood())
    figures["a flood at the gate"] = f"200 wrong passphrases at once from one device, {len(tries)} weighed"
    assert len(tries) == 10, "ten guesses were weighed, a hundred and ninety were not"


def test_memory_of_wrong_tries_is_bounded(clock):
    tries = Tries(clock)
    for number in range(5000):
        tries.wrong(f"10.0.{number // 256}.{number % 256}")
    assert len(tries._of) == 1000
    clock.now += 601
    tries.wrong("10.1.1.1")
    assert len(tries._all) == 1


@pytest.mark.parametrize(
    "host",
    [
        "evil.example",
        f"evil.example:{PORT}",
        HERE,
        f"{HERE}:80",
        "192.168.4.21:8501",
        "localhost:8501",
        "",
        f"{HERE}:{PORT}.",
    ],
)
def test_another_name_for_this_machine_is_turned_away(phone, host):
    # RFC 9110 §7.2 and the attack called DNS rebinding: the name in Host is what the page was loaded from.
    phone.come_in()
    answer = phone(host=host or "\t")
    assert answer.status == 400
    assert SECRET not in answer.text
    assert phone("/_stcore/stream", kind="websocket", host=host or "\t").kinds == ["websocket.close"]


def test_two_hosts_are_none(phone):
    assert phone(more=[(b"host", b"evil.example")]).status == 400


@pytest.mark.parametrize(
    "origin",
    ["http://evil.example", f"https://{HERE}:{PORT}", f"http://{HERE}", f"http://{HERE}:8502", "null", ""],
)
def test_a_page_from_elsewhere_opens_no_socket_and_sends_no_words(phone, origin):
    # RFC 6455 §10.2: a browser says in Origin which page opens a socket.
    phone.come_in()
    phone.origin = origin
    assert phone("/_stcore/stream", kind="websocket").kinds == ["websocket.close"]
    assert phone.tell(WORDS).status == 400


@pytest.mark.parametrize(
    "name", ["x-forwarded-for", "forwarded", "x-real-ip", "x-forwarded-host", "x-forwarded-proto"]
)
def test_what_is_said_about_who_passed_a_request_on_is_not_believed(phone, own, name):
    for said in (b"127.0.0.1", b"for=127.0.0.1", b"localhost"):
        assert phone(more=[(name.encode(), said)]).status == 401
        assert own(more=[(name.encode(), said)]).status == 400, (
            "somebody else's, through a program of this machine"
        )


def test_this_machine_itself_comes_in_by_its_own_names_only(own, gate):
    for host in (f"127.0.0.1:{PORT}", f"localhost:{PORT}", "localhost", f"[::1]:{PORT}"):
        assert SECRET in own(host=host).text
    assert own(host=f"{HERE}:{PORT}").status == 400
    assert own(host="evil.example").status == 400
    assert own("/_stcore/stream", kind="websocket").opened
    assert not own("/_stcore/stream", kind="websocket", origin="http://evil.example").opened
    assert not own("/_stcore/stream", kind="websocket", origin="http://127.0.0.1:8888").opened


def test_a_device_cannot_pass_for_this_machine(gate):
    for client, server in (
        (PHONE, "127.0.0.1"),
        ("127.0.0.1", HERE),
        ("::ffff:127.0.0.1", HERE),
        ("127.0.0.2", HERE),
    ):
        for host in (f"127.0.0.1:{PORT}", f"localhost:{PORT}", f"{HERE}:{PORT}"):
            assert SECRET not in Ask(gate, client, server, host)().text


def test_the_mark_comes_from_the_gate_alone(phone, own, gate):
    word = gate._opening.own_word
    phone.come_in()
    brought = [(HEADER.encode(), word.encode()), (b"X-Claywalk-Visitor", b"x"), (b"x_claywalk_visitor", b"y")]
    assert phone(more=brought).text == f"{SECRET} ['another device']"
    assert own(more=[(HEADER.encode(), b"another device")]).text == f"{SECRET} ['{word}']"
    assert phone("/_stcore/stream", kind="websocket", more=brought).text == f"{SECRET} ['another device']"


def test_a_device_sends_no_files(phone, own):
    phone.come_in()
    for method in ("PUT", "POST", "DELETE", "PATCH"):
        answer = phone("/_stcore/upload_file/session/file", method)
        assert answer.status == 403
        assert "only on the machine" in answer.text
    assert SECRET in own("/_stcore/upload_file/session/file", "PUT").text


def test_no_way_leads_elsewhere(phone):
    answer = phone(
        "//evil.example/%2e%2e", "POST", urlencode({"words": WORDS, "next": "//evil.example"}).encode()
    )
    assert "location" not in answer.headers
    body = urlencode({"words": WORDS, "next": "//evil.example"}).encode()
    assert phone(LET_IN, "POST", body).headers["location"] == "/"


@pytest.mark.parametrize(
    "body", [b"\xff\xfe", b"words=" + b"a" * 5000, b"a=1&b=2&c=3&d=4&e=5&words=x", b"words=a&words=b", b"%"]
)
def test_a_form_that_cannot_be_read_is_said_to_be(phone, body):
    answer = phone(LET_IN, "POST", body)
    assert answer.status == 400
    assert "could not be read" in answer.text


def test_who_is_looking(monkeypatch):
    assert visitor_marked(None).here, "nobody else can look while the app is not open"
    assert visitor_marked("another device").sees_owners
    opening = Opening((PLACE,))
    visitors.open_to_network(opening)
    try:
        assert visitor_marked(opening.own_word).here
        for mark in (None, "", "another device", "x", opening.own_word + "x", "\xe9"):
            stranger = visitor_marked(mark)
            allowed = (stranger.here, stranger.sees_owners, stranger.may_import, stranger.may_change_settings)
            assert not any(allowed)
        visitors.open_to_network(Opening((PLACE,), owners=True))
        assert visitor_marked("another device").sees_owners
        assert not visitor_marked("another device").may_import
    finally:
        visitors.open_to_network(None)
    assert opening.own_word not in repr(opening)


def test_the_door_of_an_app_that_is_not_open():
    own = Ask(Door(BEHIND), "127.0.0.1", "127.0.0.1", f"127.0.0.1:{PORT}", f"http://127.0.0.1:{PORT}")
    assert SECRET in own().text
    assert own("/_stcore/stream", kind="websocket").opened
    assert not own("/_stcore/stream", kind="websocket", origin="http://localhost:8501").opened
    # The library would ask an outside server for this machine's address to judge such a name.
    assert not own("/_stcore/stream", kind="websocket", origin="http://evil.example").opened
    assert own(host="evil.example").status == 400
    # However the server was told to listen: a program on another machine can name any Host it likes.
    for client, server in ((PHONE, HERE), (PHONE, "127.0.0.1"), ("127.0.0.1", HERE)):
        assert Ask(Door(BEHIND), client, server, f"localhost:{PORT}")().status == 400


@settings(max_examples=300, deadline=None)
@given(
    path=st.text(max_size=40).map("/".__add__),
    host=st.text(st.characters(max_codepoint=255), max_size=40),
    cookie=st.text(st.characters(max_codepoint=255), max_size=60),
    method=st.sampled_from(["GET", "POST", "PUT", "HEAD", "BREW"]),
    body=st.binary(max_size=80),
)
def test_whatever_a_stranger_sends_he_learns_nothing(path, host, cookie, method, body):
    clock = Clock()
    stranger = Ask(Gate(BEHIND, Opening((PLACE,)), Lock(WORDS, clock), clock, clock.rest))
    stranger.cookie = f"claywalk-{PORT}={cookie}"
    for asked in (host, f"{HERE}:{PORT}"):
        answer = stranger(path, method, body, host=asked or "-")
        assert answer.status in (400, 401, 429)
        assert SECRET not in answer.text
