"""What the app is made of: the screens and, on the same port, what the map fetches."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import streamlit
from starlette.middleware import Middleware

from prospect.palette import Surfaces, colours
from prospect.ui.door import Door
from prospect.ui.gate import Gate, Lock
from prospect.ui.open_ground import workspace
from prospect.ui.policy import PolicyMiddleware, inline_scripts
from prospect.ui.routes import routes
from prospect.ui.visitor import Opening


def app_parts(opening: Opening | None = None, passphrase: str = "") -> dict[str, Any]:
    """Return what `st.App` is made of.

    Parameters
    ----------
    opening
        How the app is open to the local network; None = to this machine only, and a request that names another host
        or comes from another page is turned away.
    passphrase
        What other devices come in by while it is open.
    """
    sockets = [] if opening is None else [place.replace("http", "ws", 1) for place in opening.addresses]
    front = Middleware(Door) if opening is None else Middleware(Gate, opening=opening, lock=Lock(passphrase))
    return {
        "script_path": Path(__file__).with_name("main.py"),
        "routes": routes(workspace()),
        "middleware": [
            Middleware(PolicyMiddleware, inline=inline_scripts(_library_page()), sockets=sockets),
            front,
        ],
    }


def server_settings(port: int | None = None) -> dict[str, object]:
    """Return every setting the server is started with; `.streamlit/config.toml` says the same."""
    settings: dict[str, object] = {
        "server.address": "127.0.0.1",
        "server.headless": True,
        "server.showEmailPrompt": False,
        "server.enableCORS": True,
        "server.enableXsrfProtection": True,
        "server.maxUploadSize": 500,
        "server.fileWatcherType": "none",
        "browser.gatherUsageStats": False,
        "logger.hideWelcomeMessage": True,
        "client.toolbarMode": "minimal",
        "client.showErrorDetails": "none",
        "client.showErrorLinks": False,
        "theme.font": "sans-serif",
        "theme.headingFont": "serif",
        "theme.baseFontSize": 17,
        "theme.baseRadius": "10px",
        **_theme("theme.light", colours().light),
        **_theme("theme.dark", colours().dark),
    }
    return settings if port is None else {**settings, "server.port": port}


def _library_page() -> str:
    page = Path(streamlit.__file__).parent / "static" / "index.html"
    return page.read_text(encoding="utf-8") if page.is_file() else ""


def _theme(section: str, surfaces: Surfaces) -> dict[str, object]:
    return {
        f"{section}.primaryColor": surfaces.kiln,
        f"{section}.backgroundColor": surfaces.paper,
        f"{section}.secondaryBackgroundColor": surfaces.shelf,
        f"{section}.textColor": surfaces.slate,
        f"{section}.borderColor": surfaces.line,
        f"{section}.linkColor": surfaces.iron,
    }
