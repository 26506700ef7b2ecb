"""What the browser is told about the app's pages (W3C Content Security Policy Level 3)."""

from __future__ import annotations

import asyncio
import base64
import hashlib
from pathlib import Path

import pytest
import streamlit
from starlette.applications import Starlette
from starlette.middleware import Middleware
from starlette.responses import PlainTextResponse
from starlette.routing import Route

from prospect.ui.policy import PolicyMiddleware, headers, inline_scripts, map_frame_policy, page_policy


def directives(policy: str) -> dict[str, list[str]]:
    parts = (part.split() for part in policy.split(";"))
    return {name: sources for name, *sources in parts}


@pytest.mark.parametrize("policy", [page_policy(), map_frame_policy()])
def test_nothing_from_elsewhere_and_nothing_by_default(policy):
    said = directives(policy)
    assert said["default-src"] == said["object-src"] == said["base-uri"] == ["'none'"]
    assert said["frame-ancestors"] == ["'self'"]
    own = ("'", "data:", "blob:", "ws://127.0.0.1:", "ws://localhost:")
    assert not [source for sources in said.values() for source in sources if not source.startswith(own)]


def test_a_page_runs_our_files_and_the_library_s_own_inline_script_only():
    script = "\n window.x = false\n"
    scripts = directives(page_policy([script]))["script-src"]
    digest = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    assert scripts == ["'self'", f"'sha256-{digest}'"]
    assert directives(page_policy())["script-src"] == ["'self'"]


def test_the_library_s_page_has_inline_scripts_that_are_found():
    page = (Path(streamlit.__file__).parent / "static" / "index.html").read_text(encoding="utf-8")
    assert page.count("<script>") == len(inline_scripts(page))


def test_only_the_map_s_frame_may_put_scripts_together():
    assert "'unsafe-eval'" in headers("/component/x/index.html")["Content-Security-Policy"]
    for path in ("/", "/layers", "/static/js/index.js", "/data/parcels.geojson", "/media/x"):
        said = directives(headers(path)["Content-Security-Policy"])
        assert said["script-src"] == ["'self'"], path


def asked(app, path: str) -> dict[str, str]:
    """Return the headers of an answer (the server interface of Python's ASGI specification 3.0)."""
    sent = []

    async def receive():
        return {"type": "http.request", "body": b"", "more_body": False}

    async def send(message):
        sent.append(message)

    scope = {
        "type": "http",
        "method": "GET",
        "path": path,
        "query_string": b"",
        "headers": [],
        "root_path": "",
    }
    asyncio.run(app(scope, receive, send))
    return {name.decode(): value.decode() for name, value in sent[0]["headers"]}


def test_every_answer_carries_them_and_keeps_its_own():
    async def answer(_):
        return PlainTextResponse("x", headers={"Cache-Control": "no-store"}, status_code=404)

    app = Starlette(routes=[Route("/a", answer)], middleware=[Middleware(PolicyMiddleware, inline=["x"])])
    for path in ("/a", "/nothing"):
        got = asked(app, path)
        wanted = {name.lower(): value for name, value in headers(path, ["x"]).items()}
        assert {name: got[name] for name in wanted} == wanted
    assert asked(app, "/a")["cache-control"] == "no-store"
