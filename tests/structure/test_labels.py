"""Foreign words go onto a screen through `st.html` and the encoders; whatever reads Markdown gets words of ours only.

Escaping does not make Markdown exact: tried in a browser, two hyphens became a dash and a bare address a link.
"""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

UI = Path(__file__).parents[2] / "prospect" / "ui"
MARKDOWN_FIRST = {
    "audio_input", "badge", "button", "camera_input", "caption", "chat_message", "checkbox", "color_picker",
    "data_editor", "date_input", "divider", "download_button", "error", "exception", "expander", "feedback",
    "file_uploader", "form_submit_button",
    "header", "info", "latex", "link_button", "markdown", "menu_button", "metric",
    "multiselect", "number_input", "pills", "popover", "radio", "segmented_control", "select_slider", "selectbox",
    "slider", "spinner", "status", "subheader", "success", "tabs", "text_area", "text_input", "time_input", "title",
    "toast", "toggle", "warning", "write", "write_stream",
}  # fmt: skip
"""Functions of the screen library whose first argument is read as Markdown (its documentation, 1.67)."""
MARKDOWN_NAMED = {"label", "help", "captions", "body", "text", "title"}
NUMBERS = {"MOST_HOLES", "number", "site.site", "len(deeds)", "state.leaf + 1", "leaves"}
"""What may stand inside a label: numbers that the program counted itself."""
OURS = {
    ("entry.py", "label"): "the caller's own constant, see `LABELS` and `FIELDS` of each form",
    ("ground.py", "label"): "one of three constants of `_choices`",
    ("ground.py", "title"): "titles of `OVERLAYS`",
    ("main.py", "page.title"): "titles of the rooms, constants above",
    ("sample_form.py", "label"): "one of two constants of the loop",
    (
        "permissions.py",
        "entry.recorded[:10]",
    ): "the day an entry was saved, ten characters of the program's own",
    ("clay_page.py", "label"): "one of three constants of `_way_to`",
    ("photo_part.py", "label"): "a constant of the page that holds the part",
    ("bars_form.py", "label"): "titles of `STAGES`",
    ("bench_clash.py", "label"): "one of two constants of the loop",
    ("hole_steps.py", "label"): "constants of `hole_form` and `hole_layer`, with numbers and units of ours",
    ("holes.py", "spot"): "'' or ' here'",
    ("samples.py", "spot"): "'' or ' at this spot'",
    ("permissions.py", "label"): "one of the constants of the loop",
}
"""Labels that are variables, and why they hold no foreign word; a new one is looked at before it comes in here."""


def screens() -> list[Path]:
    return [path for path in sorted(UI.rglob("*.py")) if "import streamlit as st" in path.read_text("utf-8")]


def labels(path: Path) -> Iterator[tuple[int, ast.expr]]:
    """Yield every argument that the library reads as Markdown."""
    for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not (isinstance(call, ast.Call) and isinstance(call.func, ast.Attribute)):
            continue
        if call.func.attr in MARKDOWN_FIRST and _is_screen(call.func.value):
            yield from ((call.lineno, argument) for argument in call.args[:1])
        if _is_screen(call.func.value) and call.func.attr not in ("Page", "set_page_config"):
            named = (keyword for keyword in call.keywords if keyword.arg in MARKDOWN_NAMED)
            yield from ((call.lineno, keyword.value) for keyword in named)


def _is_screen(owner: ast.expr) -> bool:
    """Whether something is the library or one of its containers: any plain name but the few that are neither."""
    return isinstance(owner, ast.Name) and owner.id not in ("parser", "logging", "log")


def foreign(path: Path, argument: ast.expr) -> list[str]:
    """Return the parts of an argument that are not shown to be words of ours."""
    if isinstance(argument, ast.Constant):
        return []
    if isinstance(argument, ast.IfExp):
        return foreign(path, argument.body) + foreign(path, argument.orelse)
    if isinstance(argument, ast.JoinedStr):
        parts = (part.value for part in argument.values if isinstance(part, ast.FormattedValue))
        return [
            text for text in map(ast.unparse, parts) if text not in NUMBERS and (path.name, text) not in OURS
        ]
    text = ast.unparse(argument)
    return [] if (path.name, text) in OURS else [text]


@pytest.mark.parametrize("path", screens(), ids=lambda path: path.name)
def test_nothing_foreign_is_read_as_markdown(path):
    found = [f"line {line}: {text}" for line, argument in labels(path) for text in foreign(path, argument)]
    assert not found, f"{path.name}: show it with st.html(words(...)), or say in OURS why it is ours"


OUR_SCRIPT = r'<script src="\./assets/claywalk/[a-z-]+\.js(\?\0)?"></script>'


def _text(argument: ast.expr) -> str:
    """Return a string as it stands in the code, with a NUL for each part that is filled in."""
    parts = argument.values if isinstance(argument, ast.JoinedStr) else [argument]
    return "".join(str(part.value) if isinstance(part, ast.Constant) else "\0" for part in parts)


@pytest.mark.parametrize("path", screens(), ids=lambda path: path.name)
def test_scripts_are_allowed_only_where_they_are_a_file_of_ours(path):
    for call in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(call, ast.Call) and any(key.arg == "unsafe_allow_javascript" for key in call.keywords):
            assert re.fullmatch(OUR_SCRIPT, _text(call.args[0])), ast.unparse(call.args[0])
        if isinstance(call, ast.Call):
            assert not [key.arg for key in call.keywords if key.arg == "unsafe_allow_html"]


def test_the_search_finds_a_foreign_label(tmp_path):
    path = tmp_path / "bad.py"
    path.write_text(
        "import streamlit as st\nst.button(f'Read {owner}')\nst.caption(note)\nleft.radio('x', help=y)\n"
    )
    assert [foreign(path, argument) for _, argument in labels(path)] == [["owner"], ["note"], [], ["y"]]
