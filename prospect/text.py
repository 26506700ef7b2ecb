"""The encoders: the only doors for foreign text into HTML, scripts, templates, tables and XML."""

from __future__ import annotations

import html
import json
import math
import re
import unicodedata
from collections.abc import Iterator, Mapping

_CUT = "…"
# Beyond the five of HTML: each of these starts something in a template or in a script literal.
_IN_HTML = {ord(char): f"&#{ord(char)};" for char in "<>&\"'`${}\\%"}
_IN_SCRIPT = {ord(char): f"\\u{ord(char):04x}" for char in "{}<>&`$%#_'"}
_STARTS_FORMULA = "=+-@\t\r\n\0＝＋－＠"
_NEEDS_QUOTE = re.compile(rf"^'*[{re.escape(_STARTS_FORMULA)}]")
_QUOTED = re.compile(rf"^'+[{re.escape(_STARTS_FORMULA)}]")
_PLAIN_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?")
_LINE_BREAK = re.compile("\r\n|[\n\r\v\f\x1c-\x1e\x85\u2028\u2029]")
_UNSEEN = ("Cc", "Cf", "Cs", "Co", "Cn")
_JOINERS = "\u200c\u200d"
# Never letters, in any version of Unicode; other unnamed places may be letters of a version to come.
_NO_CHARACTER = re.compile(
    f"[\u2065\ufdd0-\ufdef\ufff0-\ufff8\U000e0000-\U000effff{''.join(map(chr, range(0xFFFE, 0x110000, 0x10000)))}"
    f"{''.join(map(chr, range(0xFFFF, 0x110000, 0x10000)))}]"
)
_MOST_MARKS = 30
_MARK = "\u0300-\u036f\u0483-\u0489\u1ab0-\u1aff\u1dc0-\u1dff\u20d0-\u20f0\ufe20-\ufe2f"
_MANY_MARKS = re.compile(f"[{_MARK}\u200c\u200d\ufe00-\ufe0f]{{{_MOST_MARKS + 1},}}")
_NOT_IN_NAMES = re.compile(r"""[<>:"'|?*{}$`%&;!#~\\/]""")
_DEVICES = {
    "CON",
    "PRN",
    "AUX",
    "NUL",
    *(f"{port}{number}" for port in ("COM", "LPT") for number in range(1, 10)),
}
_MOST_NAME_BYTES = 160
_LONGEST_ENDING = 12
# In JSON these can only stand inside strings: control, format, surrogate, private and separator characters.
_NOT_SHOWN = re.compile(
    "[\x7f-\x9f\xad\u061c\u180e\u200b-\u200f\u2028-\u202e\u2060-\u206f\ufeff\ud800-\uf8ff\ufff9-\uffff\U000e0000-\U0010ffff]"
)
_NOT_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def plain(text: object, most: int = 500, *, lines: bool = False) -> str:
    """Return text fit to be shown: nothing invisible or direction-changing, and of bounded length.

    Parameters
    ----------
    text
        Anything; None gives an empty string.
    most
        Longest result, characters; what is cut ends in an ellipsis.
    lines
        Keep line breaks instead of turning them into spaces.

    Notes
    -----
    Left out are control and format characters, halves of surrogate pairs, private and non-characters, and marks on
    one letter beyond the thirty of Unicode's stream-safe text format (UAX #15, section 13). The two joiners stay
    where they belong to the spelling of a word (Unicode 15, section 23.2), that is, after a letter that is not
    ASCII. Every kind of line break counts as one.
    """
    given = "" if text is None else str(text)[: 4 * most + 64]
    if given.isprintable() and (given.isascii() or not _MANY_MARKS.search(given)):
        shown = given.strip()
    else:
        given = _LINE_BREAK.sub("\n" if lines else " ", given).replace("\t", " ")
        shown = _bearable_marks("".join(_visible(given))).strip()
    return shown if len(shown) <= most else shown[: most - 1].rstrip() + _CUT


def _visible(text: str) -> Iterator[str]:
    before = ""
    for char in text:
        if char in _JOINERS:
            seen = before > "\x7f" and not before.isspace()
        else:
            seen = char == "\n" or unicodedata.category(char) not in _UNSEEN
            seen = seen or (unicodedata.category(char) == "Cn" and not _NO_CHARACTER.match(char))
        if seen:
            yield char
            before = char


def _bearable_marks(text: str) -> str:
    return _MANY_MARKS.sub(lambda run: run[0][:_MOST_MARKS], text)


def file_name(text: object) -> str:
    """Return a name under which a file of somebody else's can lie in a folder of ours, its ending kept.

    It holds no folder, nothing that a shell, a library or a system takes for its own, is not empty, and is at most
    160 bytes long.
    """
    last = re.split(r"[/\\]", "" if text is None else str(text))[-1]
    safe = _NOT_IN_NAMES.sub("_", plain(last, most=len(last) + 1)).rstrip(" .")
    stem, dot, ending = safe.rpartition(".")
    if not dot or len(ending) > _LONGEST_ENDING:
        stem, ending = safe, ""
    stem = stem.strip(" .") or "file"
    if stem.split(".")[0].strip().upper() in _DEVICES:
        stem = f"file {stem}"
    stem = stem.encode()[: _MOST_NAME_BYTES - len(ending.encode())].decode(errors="ignore").rstrip(" .")
    return f"{stem}.{ending}" if ending else stem


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


def printable_json(text: str) -> str:
    r"""Return JSON in which everything that is not shown, or steers a terminal, is a ``\uXXXX`` escape."""
    return _NOT_SHOWN.sub(lambda found: json.dumps(found[0])[1:-1], text)


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
