"""The gate before the app while it is open to the local network: other devices come in by a passphrase."""

from __future__ import annotations

import asyncio
import hashlib
import hmac
import math
import secrets
import time
import unicodedata
from collections import OrderedDict, deque
from collections.abc import Awaitable, Callable, Iterable
from urllib.parse import parse_qs

from starlette.datastructures import Headers
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Receive, Scope, Send

from prospect.ui.door import arrives_inside, is_asked_by_own_name, is_ours, refuse
from prospect.ui.gate_page import PAGE_HEADERS, gate_page
from prospect.ui.visitor import ANOTHER_DEVICE, HEADER, Opening

SHORTEST = 12
"""Fewest characters of a passphrase of one's own."""
LET_IN = "/let-me-in"
LASTS_S = 12 * 3600.0
WINDOW_S = 600.0
TRIES_OF_ONE = 10
TRIES_OF_ALL = 60
LONGEST_DELAY_S = 8.0
_FIRST_DELAY_S = 0.25
_CLIENTS_KEPT = 1000
_LONGEST_BODY = 4096
_LONGEST_WAIT_FOR_BODY_S = 10.0
_PASSED_ON = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-forwarded-proto", "x-real-ip")
Clock = Callable[[], float]


class Tries:
    """Wrong passphrases of the last ten minutes, by device and in all.

    Parameters
    ----------
    clock
        Seconds that only grow.
    """

    def __init__(self, clock: Clock = time.monotonic) -> None:
        self._clock = clock
        self._of: OrderedDict[str, deque[float]] = OrderedDict()
        self._all: deque[float] = deque()

    def wait_s(self, device: str) -> float:
        """Return how long a device has to wait before its next try, seconds; 0 = not at all."""
        return max(
            self._left(self._of.get(device, deque()), TRIES_OF_ONE), self._left(self._all, TRIES_OF_ALL), 0.0
        )

    def tries_left(self, device: str) -> int:
        """Return how many more wrong tries a device has."""
        return max(TRIES_OF_ONE - len(self._of.get(device, ())), 0)

    def wrong(self, device: str) -> float:
        """Note a wrong try at once; return how long to hold the answer back, seconds."""
        now = self._clock()
        mine = self._of.setdefault(device, deque())
        self._of.move_to_end(device)
        while len(self._of) > _CLIENTS_KEPT:
            self._of.popitem(last=False)
        for tries in (mine, self._all):
            while tries and tries[0] <= now - WINDOW_S:
                tries.popleft()
            tries.append(now)
        return min(_FIRST_DELAY_S * 2.0 ** (len(mine) - 1), LONGEST_DELAY_S)

    def right(self, device: str) -> None:
        """Forget the wrong tries of a device that found the right words."""
        self._of.pop(device, None)

    def _left(self, tries: deque[float], most: int) -> float:
        if len(tries) < most:
            return 0.0
        return tries[-most] + WINDOW_S - self._clock()


class Lock:
    """The passphrase of one start, and the pass that a device keeps once it has given it.

    Parameters
    ----------
    passphrase
        At least `SHORTEST` characters; letters large or small, and how the words are set apart, do not count.
    clock
        Seconds that only grow.

    Raises
    ------
    ValueError
        For a passphrase that is too short.
    """

    def __init__(self, passphrase: str, clock: Clock = time.monotonic) -> None:
        if len(_as_said(passphrase)) < SHORTEST:
            raise ValueError(f"a passphrase needs at least {SHORTEST} characters")
        self._secret = secrets.token_bytes(32)
        self._kept = self._sealed(_as_said(passphrase))
        self._clock = clock

    def opens(self, told: str) -> bool:
        """Whether these are the words; takes the same time for every wrong one."""
        return hmac.compare_digest(self._kept, self._sealed(_as_said(told)))

    def new_pass(self) -> str:
        """Return a pass for one device, good for `LASTS_S` and for this start only."""
        content = f"{self._clock() + LASTS_S:.0f}.{secrets.token_urlsafe(12)}"
        return f"{content}.{self._sealed(content)}"

    def good_for_s(self, shown: str) -> float:
        """Return how long a pass is still good, seconds; 0 for one that is not ours or has run out."""
        content, _, seal = shown.rpartition(".")
        if not hmac.compare_digest(seal.encode(), self._sealed(content).encode()):
            return 0.0
        return max(float(content.partition(".")[0]) - self._clock(), 0.0)

    def _sealed(self, text: str) -> str:
        return hmac.new(self._secret, text.encode("utf-8", "surrogatepass"), hashlib.sha256).hexdigest()


class Gate:
    """Stands before everything the app serves: pages, sockets, pictures, data, uploads, health.

    This machine itself, asked by its own name, comes in as ever. Any other device sees nothing but a page that asks
    for the passphrase until it has given it; then it may look at everything and speak through the socket, but send
    no file. What a request says about who passed it on is never believed.

    Parameters
    ----------
    app
        What stands behind.
    opening
        How the app is open.
    lock
        The passphrase of this start.
    clock, rest
        Seconds that only grow; how to wait a while.
    """

    def __init__(
        self,
        app: ASGIApp,
        opening: Opening,
        lock: Lock,
        clock: Clock = time.monotonic,
        rest: Callable[[float], Awaitable[None]] = asyncio.sleep,
    ) -> None:
        self.app = app
        self._opening = opening
        self._lock = lock
        self._tries = Tries(clock)
        self._rest = rest

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] not in ("http", "websocket"):
            await self.app(scope, receive, send)
        elif arrives_inside(scope):
            if is_asked_by_own_name(scope) and is_ours(scope) and not _is_passed_on(scope):
                await self.app(_marked(scope, self._opening.own_word), receive, send)
            else:
                await refuse(scope, receive, send, "This is not an address of the app.", 400)
        elif not (self._is_asked_by_address(scope) and is_ours(scope, must_say=True)):
            await refuse(scope, receive, send, "This is not an address of the app.", 400)
        else:
            await self._answer_device(scope, receive, send)

    async def _answer_device(self, scope: Scope, receive: Receive, send: Send) -> None:
        left_s = max((self._lock.good_for_s(shown) for shown in _passes(scope)), default=0.0)
        if left_s <= 0:
            await self._ask(scope, receive, send)
        elif scope["type"] == "http" and scope["method"] == "POST" and scope["path"] == LET_IN:
            await RedirectResponse("/", 303, PAGE_HEADERS)(scope, receive, send)
        elif scope["type"] == "http" and scope["method"] not in ("GET", "HEAD"):
            words = "Files are sent in only on the machine that holds the ground."
            await refuse(scope, receive, send, words, 403)
        else:
            try:
                async with asyncio.timeout(left_s) as limit:
                    await self.app(_marked(scope, ANOTHER_DEVICE), receive, send)
            except TimeoutError:
                if not limit.expired():
                    raise  # else a socket has ended with the pass that opened it

    async def _ask(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] == "websocket":
            await refuse(scope, receive, send, "", 401)
            return
        request = Request(scope, receive)
        if request.method == "POST" and scope["path"] == LET_IN:
            response = await self._try(request)
        elif request.method in ("GET", "HEAD"):
            response = _page(401)
        else:
            await refuse(scope, receive, send, "The passphrase is needed first.", 401)
            return
        await response(scope, receive, send)

    async def _try(self, request: Request) -> Response:
        device = request.client.host if request.client else ""
        if (wait_s := self._tries.wait_s(device)) > 0:
            return _waiting(wait_s)
        told = await _told(request)
        if (wait_s := self._tries.wait_s(device)) > 0:  # others may have tried while this one was being sent
            return _waiting(wait_s)
        if told is None:
            return _page(400, "That could not be read. Type the words once more.")
        if self._lock.opens(told):
            self._tries.right(device)
            response = RedirectResponse("/", 303, PAGE_HEADERS)
            response.set_cookie(
                _pass_name(request.scope),
                self._lock.new_pass(),
                max_age=int(LASTS_S),
                httponly=True,
                samesite="strict",
            )
            return response
        await self._rest(self._tries.wrong(device))
        if (wait_s := self._tries.wait_s(device)) > 0:
            return _waiting(wait_s)
        return _page(401, f"That is not it. {_more(self._tries.tries_left(device))}")

    def _is_asked_by_address(self, scope: Scope) -> bool:
        """Whether the one Host named is the very address and port at which the request came in, one of those told."""
        hosts, server = Headers(scope=scope).getlist("host"), scope.get("server")
        if server is None or len(hosts) != 1:
            return False
        place = f"http://{server[0]}:{server[1]}"
        return place in self._opening.addresses and f"http://{hosts[0]}" == place


def _is_passed_on(scope: Scope) -> bool:
    """Whether some program on this machine passed the request on for somebody else."""
    return any(name in Headers(scope=scope) for name in _PASSED_ON)


def _marked(scope: Scope, mark: str) -> Scope:
    """Return the request with the gate's mark in place of any that it brought along."""
    wanted = HEADER.replace("-", "_").encode()
    brought: Iterable[tuple[bytes, bytes]] = scope["headers"]
    kept = [pair for pair in brought if pair[0].lower().replace(b"-", b"_") != wanted]
    return {**scope, "headers": [*kept, (HEADER.encode(), mark.encode())]}


def _pass_name(scope: Scope) -> str:
    return f"claywalk-{scope['server'][1]}"


def _passes(scope: Scope) -> list[str]:
    """Return every pass that a request shows."""
    found = []
    for line in Headers(scope=scope).getlist("cookie"):
        for pair in line.split(";"):
            name, _, value = pair.strip().partition("=")
            if name == _pass_name(scope):
                found.append(value.strip('"'))
    return found[:4]


async def _told(request: Request) -> str | None:
    """Return the words sent with a form; None when they cannot be read."""
    if not request.headers.get("content-type", "").startswith("application/x-www-form-urlencoded"):
        return None
    body = b""
    try:
        async with asyncio.timeout(_LONGEST_WAIT_FOR_BODY_S):
            async for piece in request.stream():
                body += piece
                if len(body) > _LONGEST_BODY:
                    return None
        fields = parse_qs(body.decode("ascii"), max_num_fields=4, errors="strict")
    except (TimeoutError, ClientDisconnect, ValueError):
        return None
    values = fields.get("words", [])
    return values[0] if len(values) == 1 else None


def _as_said(words: str) -> str:
    """Return a passphrase as it is compared: a phone's keyboard adds capitals, dashes and spaces of its own."""
    plain = unicodedata.normalize("NFKC", words).casefold().replace("-", " ")
    return " ".join(plain.split())


def _page(status: int, said: str = "", headers: dict[str, str] | None = None) -> Response:
    return HTMLResponse(gate_page(LET_IN, said), status, {**PAGE_HEADERS, **(headers or {})})


def _waiting(wait_s: float) -> Response:
    minutes = math.ceil(wait_s / 60)
    words = f"Too many wrong tries. Wait {minutes} minute{'' if minutes == 1 else 's'}, then try again."
    return _page(429, words, {"Retry-After": str(math.ceil(wait_s))})


def _more(left: int) -> str:
    return f"{left} more {'try' if left == 1 else 'tries'}, then this device has to wait."
