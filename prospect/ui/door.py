"""The app's door: turns away every request that names another machine or comes from another page."""

from __future__ import annotations

from starlette.datastructures import Headers
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Receive, Scope, Send

OWN_NAMES = ("127.0.0.1", "localhost", "[::1]")
_THIS_MACHINE = ("127.0.0.1", "::1")
_SAFE = ("GET", "HEAD")
_SHUT = 1008  # RFC 6455 §7.4.1: the policy forbids it
_HEADERS = {"Cache-Control": "no-store", "X-Content-Type-Options": "nosniff"}


class Door:
    """Lets in what was asked by this machine of itself, by its own name, from a page of ours.

    Notes
    -----
    A page elsewhere that points its own name at this machine sends that name as Host (RFC 9110 §7.2). A page that
    opens a socket or sends something says where it comes from (RFC 6454 §7, RFC 6455 §10.2): another port of this
    machine is another place. The app's library would let those in, and would ask an outside server for this machine's
    address to judge a foreign page's name; it never hears of them here.
    """

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        asked = scope["type"] in ("http", "websocket")
        if asked and not (arrives_inside(scope) and is_asked_by_own_name(scope) and is_ours(scope)):
            await refuse(scope, receive, send, "This is not an address of the app.", 400)
        else:
            await self.app(scope, receive, send)


def arrives_inside(scope: Scope) -> bool:
    """Whether a request comes from this machine, over the way that no other machine can take."""
    client, server = scope.get("client"), scope.get("server")
    return bool(client and server and client[0] in _THIS_MACHINE and server[0] in _THIS_MACHINE)


def is_asked_by_own_name(scope: Scope) -> bool:
    """Whether the one Host named is a loopback name of this machine, on any port."""
    host = _only(scope, "host")
    name, _, port = (
        host.lower().rpartition(":") if not host.endswith("]") and ":" in host else (host.lower(), "", "1")
    )
    return name in OWN_NAMES and port.isascii() and port.isdigit()


def is_ours(scope: Scope, *, must_say: bool = False) -> bool:
    """Whether a socket, or a request that sends something, comes from a page of the very Host it names.

    Parameters
    ----------
    scope
        The request.
    must_say
        Also turn away a program that does not say where it comes from; browsers always do.
    """
    if scope["type"] == "http" and scope["method"] in _SAFE:
        return True
    said = Headers(scope=scope).getlist("origin")
    if not said:
        return not must_say
    return said == [f"http://{_only(scope, 'host')}"]


async def refuse(scope: Scope, receive: Receive, send: Send, words: str, status: int) -> None:
    """Answer in plain words that repeat nothing of what was asked; a socket is shut before it opens."""
    if scope["type"] == "websocket":
        await receive()
        await send({"type": "websocket.close", "code": _SHUT, "reason": ""})
        return
    await PlainTextResponse(words, status, _HEADERS)(scope, receive, send)


def _only(scope: Scope, name: str) -> str:
    """Return a header that stands there once, else ''."""
    values = Headers(scope=scope).getlist(name)
    return values[0] if len(values) == 1 else ""
