"""What a browser may do with the app's pages: response headers that let nothing run, load or frame that is not ours."""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Sequence

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

_INLINE = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_NO_POWERS = "camera=(), microphone=(), payment=(), usb=(), serial=(), geolocation=(self)"
_MAP_FRAME = "/component/"


def page_policy(inline: Sequence[str] = (), sockets: Sequence[str] = ()) -> str:
    """Return the content security policy of the app's pages.

    Parameters
    ----------
    inline
        Scripts written into the page by the app's library, as they stand there; no other may run.
    sockets
        Further addresses of ours whose socket a page may open, `ws://192.168.1.20:8501`.

    Notes
    -----
    W3C Content Security Policy Level 3. The library writes its styles into the page as it goes, hence inline styles;
    it speaks to its own server through a socket, which browsers before Level 3 do not count as `'self'`.
    """
    own = " ".join(("'self'", "ws://127.0.0.1:*", "ws://localhost:*", *sockets))
    scripts = " ".join(("'self'", *(f"'sha256-{_hash(script)}'" for script in inline)))
    return (
        f"default-src 'none'; script-src {scripts}; style-src 'self' 'unsafe-inline'; img-src 'self' data: blob:; "
        "font-src 'self' data:; media-src 'self' blob:; manifest-src 'self'; worker-src 'self' blob:; "
        f"connect-src {own}; frame-src 'self'; object-src 'none'; "
        "base-uri 'none'; form-action 'self'; frame-ancestors 'self'"
    )


def map_frame_policy() -> str:
    """Return the policy of the map's frame, which may run scripts that are handed to it but reach nobody else.

    The map library's component puts the map together from text of ours; every foreign word in that text has gone
    through `prospect.text.escape_script`.
    """
    return (
        "default-src 'none'; script-src 'self' 'unsafe-inline' 'unsafe-eval'; style-src 'self' 'unsafe-inline'; "
        "img-src 'self' data: blob:; font-src 'self' data:; connect-src 'self'; object-src 'none'; "
        "base-uri 'none'; form-action 'none'; frame-ancestors 'self'"
    )


def headers(path: str, inline: Sequence[str] = (), sockets: Sequence[str] = ()) -> dict[str, str]:
    """Return the headers of every answer to a path of the app."""
    policy = map_frame_policy() if _MAP_FRAME in path else page_policy(inline, sockets)
    return {
        "Content-Security-Policy": policy,
        "Cross-Origin-Opener-Policy": "same-origin",
        "Cross-Origin-Resource-Policy": "same-origin",
        "Permissions-Policy": _NO_POWERS,
        "Referrer-Policy": "no-referrer",
        "X-Content-Type-Options": "nosniff",
    }


def inline_scripts(page: str) -> tuple[str, ...]:
    """Return the scripts that stand inside a page."""
    return tuple(_INLINE.findall(page))


class PolicyMiddleware:
    """Puts the headers on every answer that does not bring stricter ones of its own."""

    def __init__(self, app: ASGIApp, inline: Sequence[str] = (), sockets: Sequence[str] = ()) -> None:
        self.app = app
        self.inline = tuple(inline)
        self.sockets = tuple(sockets)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Answer one request."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        path = str(scope.get("path", ""))

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                sent = MutableHeaders(scope=message)
                for name, value in headers(path, self.inline, self.sockets).items():
                    sent.setdefault(name, value)
            await send(message)

        await self.app(scope, receive, send_with_headers)


def _hash(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")
