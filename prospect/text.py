"""The encoders: the only doors for foreign text into HTML, scripts, templates, tables and XML."""

from __future__ import annotations

import html
import json
import math
import re
import unicodedata
from collections.abc import Mapping

_CUT = "…"
# Beyond the five of HTML: each of these starts something in a template or in a script literal.
_IN_HTML = {ord(char): f"&#{ord(char)};" for char in "<>&\"'`${}\\%"}
_IN_SCRIPT = {ord(char): f"\\u{ord(char):04x}" for char in "{}<>&`$%#_'"}
_STARTS_FORMULA = "=+-@\t\r\n\0＝＋－＠"
_NEEDS_QUOTE = re.compile(rf"^'*[{re.escape(_STARTS_FORMULA)}]")
_QUOTED = re.compile(rf"^'+[{re.escape(_STARTS_FORMULA)}]")
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def plain(text: object, most: int = 500, *, lines: bool = False) -> str:
    """Return text fit to be shown: no control or direction-changing characters, of bounded length.

    Parameters
    ----------
    text
        Anything; None gives an empty string.
    most
        Longest result, characters; what is cut ends in an ellipsis.
    lines
        Keep line breaks instead of turning them into spaces.
    """
    given = "" if text is None else str(text)[: 4 * most + 64]
    if given.isprintable() and len(given) <= most:
        return given.strip()
    kept = []
    for char in given.replace("\r\n", "\n").replace("\r", "\n"):
        if char in "\n\t":
            kept.append("\n" if lines and char == "\n" else " ")
        elif unicodedata.category(char) not in ("Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"):
            kept.append(char)
    shown = "".join(kept).strip()
    return shown if len(shown) <= most else shown[: most - 1].rstrip() + _CUT


def escape_html(text: object) -> str:
    """Return text that shows as itself in HTML, in an attribute, and in HTML inside a template literal.

    Besides the five characters of HTML it turns into numeric references everything that begins an expression
    in a script template literal or in a page template.
    """
    return ("" if text is None else str(text)).translate(_IN_HTML)


def escape_script(value: object) -> str:
    r"""Return a value as JSON that is inert inside a script element and inside a page template.

    Parameters
    ----------
    value
        None, bool, int, float, str, and lists and mappings of these; numbers that are not finite become null.

    Returns
    -------
    str
        ASCII; in strings and keys every character that a script, HTML or a template could take for its own is
        a ``\uXXXX`` escape; structural braces never touch each other.

    Raises
    ------
    TypeError
        For any other type.
    """
    if value is None or isinstance(value, bool):
        return json.dumps(value)
    if isinstance(value, str):
        return json.dumps(value, ensure_ascii=True).translate(_IN_SCRIPT)
    if isinstance(value, int):
        return str(int(value))
    if isinstance(value, float):
        return repr(float(value)) if math.isfinite(value) else "null"
    if isinstance(value, Mapping):
        pairs = (f"{escape_script(str(key))}: {escape_script(item)}" for key, item in value.items())
        return "{ " + ", ".join(pairs) + " }"
    if isinstance(value, (list, tuple)):
        return "[" + ", ".join(escape_script(item) for item in value) + "]"
    raise TypeError(f"{type(value).__name__} cannot be written into a script")


def csv_cell(value: object) -> object:
    """Return a cell that no spreadsheet takes for a formula; numbers stay numbers.

    `read_csv_cell` gives back exactly what was passed in here.
    """
    if not isinstance(value, str) or _PLAIN_NUMBER.fullmatch(value):
        return value
    return f"'{value}" if _NEEDS_QUOTE.match(value) else value


def read_csv_cell(text: str) -> str:
    """Return the text that `csv_cell` was given."""
    return text[1:] if _QUOTED.match(text) else text


def xml_text(text: object) -> str:
    """Return text for an XML element or attribute, without the characters that XML 1.0 does not allow."""
    allowed = _NOT_XML.sub("", "" if text is None else str(text))
    return html.escape(allowed, quote=True).replace("&#x27;", "&#39;")
