"""Starts the app: the screens and, on the same port, what the map fetches."""

from __future__ import annotations

import os
import sys
from pathlib import Path

import streamlit as st
from starlette.middleware import Middleware
from starlette.middleware.trustedhost import TrustedHostMiddleware

from prospect.palette import Surfaces, colours
from prospect.ui.routes import routes
from prospect.ui.workspace import Workspace

GROUND_VARIABLE = "CLAYWALK_GROUND"
_OWN_NAMES = ["127.0.0.1", "localhost", "[::1]"]


def ground_folder() -> Path:
    """Return the ground's folder: the first argument, else the environment's, else the working folder."""
    given = [argument for argument in sys.argv[1:] if not argument.startswith("-")]
    if given and Path(given[0]).is_dir():
        return Path(given[0]).resolve()
    return Path(os.environ.get(GROUND_VARIABLE, ".")).resolve()


def make_app(folder: Path | None = None) -> st.App:
    """Return the app for a ground; a request that names another host than this machine is turned away."""
    return st.App(
        Path(__file__).with_name("main.py"),
        routes=routes(workspace(folder)),
        middleware=[Middleware(TrustedHostMiddleware, allowed_hosts=_OWN_NAMES)],
    )


def workspace(folder: Path | None = None) -> Workspace:
    """Return the one workspace of this process, made on first asking."""
    global _workspace
    if _workspace is None or (folder is not None and folder != _workspace.folder):
        _workspace = Workspace(folder or ground_folder())
    return _workspace


_workspace: Workspace | None = None


def server_settings(port: int | None = None) -> dict[str, object]:
    """Return every setting the server is started with; `.streamlit/config.toml` says the same."""
    settings: dict[str, object] = {
        "server.address": "127.0.0.1",
        "server.headless": True,
        "server.enableCORS": True,
        "server.enableXsrfProtection": True,
        "server.maxUploadSize": 500,
        "server.fileWatcherType": "none",
        "browser.gatherUsageStats": False,
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        "theme.font": "sans-serif",
        "theme.headingFont": "serif",
        "theme.baseFontSize": 17,
        "theme.baseRadius": "10px",
        **_theme("theme", colours().light),
        **_theme("theme.dark", colours().dark),
    }
    return settings if port is None else {**settings, "server.port": port}


def _theme(section: str, surfaces: Surfaces) -> dict[str, object]:
    return {
        f"{section}.primaryColor": surfaces.iron,
        f"{section}.backgroundColor": surfaces.paper,
        f"{section}.secondaryBackgroundColor": surfaces.shelf,
        f"{section}.textColor": surfaces.slate,
        f"{section}.borderColor": surfaces.line,
        f"{section}.linkColor": surfaces.iron,
    }
