"""The page that asks another device for the passphrase: one question, no script, nothing about the ground."""

from __future__ import annotations

import base64
import hashlib
from functools import cache

from prospect.palette import Surfaces, colours
from prospect.text import escape_html

_RULES = """
* { box-sizing: border-box; }
html { color-scheme: light dark; }
body { margin: 0; min-height: 100vh; display: grid; place-items: center; padding: 1.2rem;
  background: var(--paper); color: var(--slate); font: 17px/1.5 "Source Sans", "Source Sans 3", system-ui, sans-serif; }
main { width: 100%; max-width: 27rem; display: grid; gap: 1.1rem; }
h1 { font: 600 1.9rem/1.2 "Source Serif", Georgia, serif; margin: 0; }
p { margin: 0; }
form { display: grid; gap: .5rem; }
label { font-weight: 600; }
input, button { font: inherit; width: 100%; min-height: 3rem; padding: .6rem .9rem; border-radius: 10px; }
input { background: var(--shelf); color: inherit; border: 1px solid var(--faded); }
button { margin-top: .5rem; background: var(--kiln); color: #FFFFFF; border: 0; font-weight: 600; cursor: pointer; }
input:focus-visible, button:focus-visible { outline: 3px solid var(--iron); outline-offset: 2px; }
[role=alert] { border-left: 5px solid var(--iron); padding-left: .9rem; }
.aside { color: var(--faded); font-size: .92rem; }
"""


def gate_page(action: str, said: str = "") -> str:
    """Return the page.

    Parameters
    ----------
    action
        Path of ours that the form is sent to.
    said
        What came of the last try, in words of ours.
    """
    alert = f'<p role="alert">{escape_html(said)}</p>' if said else ""
    return (
        '<!DOCTYPE html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        '<meta name="robots" content="noindex"><link rel="icon" href="data:,">'
        f"<title>Claywalk</title><style>{_style()}</style></head><body><main>"
        "<h1>Claywalk</h1>"
        "<p>The ground lies on another machine. Type the passphrase that stands in the window from which the app was "
        "started there.</p>"
        f'{alert}<form method="post" action="{escape_html(action)}"><label for="words">Passphrase</label>'
        '<input id="words" name="words" type="text" required maxlength="200" autocomplete="off" '
        'autocapitalize="none" autocorrect="off" spellcheck="false" autofocus>'
        '<button type="submit">Let me in</button></form>'
        '<p class="aside">The way from here to that machine is not encrypted: use it only on a network you trust.</p>'
        "</main></body></html>"
    )


def _theme(surfaces: Surfaces) -> str:
    named = ("paper", "shelf", "slate", "faded", "iron", "kiln")
    return ":root { " + " ".join(f"--{name}: {getattr(surfaces, name)};" for name in named) + " }"


@cache
def _style() -> str:
    dark = f"@media (prefers-color-scheme: dark) {{ {_theme(colours().dark)} }}"
    return f"{_theme(colours().light)}\n{dark}{_RULES}"


def _policy() -> str:
    digest = base64.b64encode(hashlib.sha256(_style().encode()).digest()).decode()
    return (
        f"default-src 'none'; style-src 'sha256-{digest}'; img-src data:; form-action 'self'; "
        "base-uri 'none'; frame-ancestors 'none'"
    )


PAGE_HEADERS: dict[str, str] = {
    "Cache-Control": "no-store",
    "Content-Security-Policy": _policy(),
    "Cross-Origin-Resource-Policy": "same-origin",
    "Referrer-Policy": "same-origin",  # without a referrer a form would not say where it comes from
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
}
"""What a browser may do with the page (W3C Content Security Policy Level 3): show it and send its form back."""
