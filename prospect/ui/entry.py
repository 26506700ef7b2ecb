"""Fields that people type into, kept as a draft at every change so that a lost page loses no more than one of them."""

from __future__ import annotations

import contextlib
import secrets
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from urllib.parse import quote

import streamlit as st

from prospect.errors import ProspectError
from prospect.store import Ground
from prospect.ui.reading import words

BLANK = "fresh"
"""Field of a draft that nobody has typed into yet."""
WAS = "was "
"""Before the name of a field in a draft: what stood in it when the change was begun."""
PUT = "put "
"""Before the name of a field in a draft: how often something else than typing has filled it."""
_HAND = "hand"
_ONE_PAGE_AT_A_TIME = threading.Lock()
"""Held from the look whose hand a draft is in until it is written."""
NOTHING_CHOSEN = "– none –"
_PAUSE = "400ms"
_MOST_LINE = 300
_MOST_NOTE = 4000


@dataclass(slots=True)
class Entry:
    """What is being typed into one form.

    Attributes
    ----------
    key
        Under which the draft is kept: the kind of form and a word of its own, which also stands in the page's address,
        so that loading the page anew finds it again.
    content
        Text by field; fields that are empty are left out.
    names
        The fields that are drawn.
    at_first
        What each widget was drawn with, by its key.
    part
        The part of a form of several that is drawn.
    typing
        The field that was changed last; what is wrong with it is not said until it is left or saved.
    tried
        Whether somebody tried to save it as it is.
    kept_at
        When the draft was last kept; empty when nothing was typed since the form was opened.
    trouble
        Why the draft or the entry could not be kept; empty when it could.
    done
        What to say of it once it is saved or put away; None as long as it is open.
    """

    key: str
    content: dict[str, str] = field(default_factory=dict)
    names: set[str] = field(default_factory=set)
    at_first: dict[str, str] = field(default_factory=dict)
    part: str = ""
    typing: str = ""
    tried: bool = False
    kept_at: str = ""
    trouble: str = ""
    done: str | None = None

    def widget(self, name: str) -> str:
        """Return the key of a field's widget.

        A field that was filled by something else than typing is another widget from then on. The browser sends every
        field with every tap: a tap that follows quickly still says what stood there before, and would undo it.
        """
        turn = self.content.get(PUT + name, "")
        return f"{self.key}.{turn} {name}" if turn else f"{self.key} {name}"

    def text_of(self, name: str) -> str:
        """Return what a field holds."""
        return self.content.get(name, "")


def keep_typing() -> None:
    """Let the browser hold what is typed until the app has it, and show number keys where a number is asked for.

    When a page is loaded anew, the app's library drops what was sent last and not taken yet. Drawn before any form, so
    that no letter is typed before somebody listens.
    """
    st.html('<script src="./assets/claywalk/typed.js"></script>', unsafe_allow_javascript=True)
    st.html('<script src="./assets/claywalk/numbers.js"></script>', unsafe_allow_javascript=True)


def say(what: str) -> None:
    """Say what came of an action, where it is seen."""
    st.html(f'<p class="cw-said" role="status">{words(what)}</p>')
    bring_into_sight(f"{what} {clock()}")


def bring_into_sight(occasion: str) -> None:
    """Scroll to what was said, else to the top of the form; once for each occasion."""
    st.html(
        f'<script src="./assets/claywalk/to-top.js?{quote(occasion[:80])}"></script>',
        unsafe_allow_javascript=True,
    )


def new_key(kind: str) -> str:
    """Return a key for a new form of a kind."""
    return f"{kind} {secrets.token_hex(6)}"


def opened(ground: Ground, key: str) -> Entry:
    """Return the entry of a form, with what its draft holds; from now on it is this page that writes the draft.

    A page that was left, or another window with the same form, may still have something under way: it no longer
    writes over what is typed here.
    """
    held = st.session_state.get(_place(key))
    if isinstance(held, Entry):
        return held
    with _ONE_PAGE_AT_A_TIME:
        content = ground.draft(key)
        entry = Entry(key, {**content, _HAND: secrets.token_hex(6)})
        if content and not ground.read_only:
            ground.keep_draft(key, entry.content)
    st.session_state[_place(key)] = entry
    return entry


def keep(ground: Ground, entry: Entry, changed: str = "") -> None:
    """Take over what the fields hold and keep it as a draft."""
    collect(entry)
    if changed:
        entry.typing, entry.tried = changed, False
        entry.content.pop(BLANK, None)
    try:
        with _ONE_PAGE_AT_A_TIME:
            if _is_in_our_hand(ground, entry):
                ground.keep_draft(entry.key, entry.content)
                entry.kept_at, entry.trouble = clock(), ""
    except ProspectError as error:
        entry.trouble = f"What you typed is not kept yet: {error}"


def ready_to_save(ground: Ground, entry: Entry) -> bool:
    """Take over what the fields hold, to be saved; return whether this page is still the one that may."""
    collect(entry)
    entry.tried, entry.typing = True, ""
    try:
        return _is_in_our_hand(ground, entry)
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
        return False


def _is_in_our_hand(ground: Ground, entry: Entry) -> bool:
    hand = ground.draft(entry.key).get(_HAND)
    if hand == entry.text_of(_HAND):
        return True
    entry.trouble = (
        "This form was saved or put away in another window."
        if hand is None
        else "This form is open in another window now, which keeps it; what you type here is not kept. Load this page "
        "anew to go on here."
    )
    return False


def collect(entry: Entry) -> None:
    """Take over what the fields hold that are drawn now."""
    for name in entry.names:
        if entry.widget(name) not in st.session_state:
            continue
        value = st.session_state[entry.widget(name)]
        text = "" if value is None else ("yes" if value else "") if isinstance(value, bool) else str(value)
        if text:
            entry.content[name] = text
        else:
            entry.content.pop(name, None)


def put(entry: Entry, values: Mapping[str, str]) -> None:
    """Write into fields from outside of them, before they are drawn again."""
    for name, text in values.items():
        st.session_state.pop(entry.widget(name), None)
        entry.content[name] = text
        entry.content[PUT + name] = str(int(entry.text_of(PUT + name) or 0) + 1)


def leave(ground: Ground, entry: Entry) -> None:
    """Leave a form for now: what was typed stays as a draft; a form that nobody typed into is forgotten."""
    collect(entry)
    if BLANK in entry.content and not entry.kept_at:
        close(ground, entry, "")
        return
    keep(ground, entry)
    if not entry.trouble:
        entry.done = "Kept as a draft. It is not on record yet."


def put_away(ground: Ground, entry: Entry) -> None:
    """Forget what was typed into a form."""
    close(ground, entry, "Put away. Nothing went on record.")


def close(ground: Ground, entry: Entry, said: str) -> None:
    """Forget the draft and say what became of it."""
    try:
        with _ONE_PAGE_AT_A_TIME:
            ground.drop_draft(entry.key)
    except ProspectError as error:
        said = f"{said} Its draft is still there: {error}"
    entry.done = said


def closed(key: str) -> str | None:
    """Return what became of a form that was saved or put away, and forget it; None as long as it is open."""
    entry = st.session_state.get(_place(key))
    if not isinstance(entry, Entry) or entry.done is None:
        return None
    del st.session_state[_place(key)]
    for name in entry.names:
        st.session_state.pop(entry.widget(name), None)
    return entry.done


def draw_part(entry: Entry, part: str) -> None:
    """Begin to draw a part of a form of several parts.

    The fields of the part before stay in the browser for a moment. What is tapped there then was meant for what is
    coming, and is no answer to either.
    """
    if part != entry.part:
        entry.part, entry.names = part, set()


def line(
    ground: Ground,
    entry: Entry,
    name: str,
    label: str,
    faults: Mapping[str, str],
    *,
    placeholder: str = "",
    most: int = _MOST_LINE,
) -> None:
    """Draw a field of one line; it is kept while it is being typed, after a short pause."""
    key = _ready(entry, name)
    with _field(entry, name, faults):
        st.text_input(
            label,
            entry.at_first[key],
            key=key,
            max_chars=max(most, len(entry.text_of(WAS + name))),
            placeholder=placeholder,
            on_change=keep,
            args=(ground, entry, name),
            live=_PAUSE,
            autocomplete="off",
        )


def note(
    ground: Ground,
    entry: Entry,
    name: str,
    label: str,
    faults: Mapping[str, str],
    *,
    placeholder: str = "",
    most: int = _MOST_NOTE,
    height: int = 140,
) -> None:
    """Draw a field for as much text as one likes."""
    key = _ready(entry, name)
    with _field(entry, name, faults):
        st.text_area(
            label,
            entry.at_first[key],
            key=key,
            max_chars=max(most, len(entry.text_of(WAS + name))),
            height=height,
            placeholder=placeholder,
            on_change=keep,
            args=(ground, entry, name),
        )


def choice(
    ground: Ground,
    entry: Entry,
    name: str,
    label: str,
    options: Mapping[str, str],
    faults: Mapping[str, str],
) -> None:
    """Draw a few answers to choose one of; their words are our own, never foreign text."""
    key = _ready(entry, name)
    first = entry.at_first[key]
    with _field(entry, name, faults):
        st.pills(
            label,
            list(options),
            default=first if first in options else None,
            format_func=lambda option: options[option],
            key=key,
            on_change=keep,
            args=(ground, entry, name),
            wrap=True,
        )


def pick(
    ground: Ground,
    entry: Entry,
    name: str,
    label: str,
    options: Sequence[str],
    faults: Mapping[str, str],
    *,
    placeholder: str,
) -> None:
    """Draw a list to choose from or to type something else into."""
    key = _ready(entry, name)
    first = entry.at_first[key]
    # A list that was drawn with something chosen cannot be emptied in the browser, so its first line is nothing.
    offered = list(dict.fromkeys(["", *options, first] if first else options))
    with _field(entry, name, faults):
        st.selectbox(
            label,
            offered,
            index=offered.index(first) if first else None,
            format_func=lambda option: option or NOTHING_CHOSEN,
            key=key,
            placeholder=placeholder,
            accept_new_options=True,
            on_change=keep,
            args=(ground, entry, name),
        )


def tick(ground: Ground, entry: Entry, name: str, label: str) -> None:
    """Draw a yes-or-no field that is no at first."""
    key = _ready(entry, name)
    st.checkbox(label, entry.at_first[key] == "yes", key=key, on_change=keep, args=(ground, entry, name))


def offer_to_save(ground: Ground, entry: Entry, save: Callable[..., None], given: tuple[object, ...]) -> None:
    """Draw the end of a form: save it, come back to it later, or put it away."""
    with st.container(horizontal=True, key="entry-end"):
        st.button(
            "Save", type="primary", key=f"{entry.key} save", on_click=save, args=given,
            disabled=bool(ground.read_only),
        )  # fmt: skip
        st.button("Not now", key=f"{entry.key} later", on_click=leave, args=(ground, entry))
        st.button("Put it away", key=f"{entry.key} away", on_click=put_away, args=(ground, entry))


def say_state(entry: Entry) -> None:
    """Say whether what was typed is kept, and that it is not on record yet."""
    if entry.trouble:
        st.html(f'<p class="cw-fault" role="alert">■ {words(entry.trouble)}</p>')
    elif entry.kept_at:
        st.html(
            f'<p class="cw-note" role="status">Kept as a draft at {words(entry.kept_at)}. It goes on record when '
            "you save it.</p>"
        )
    else:
        st.html(
            '<p class="cw-note">What you type is kept as a draft. It goes on record when you save it.</p>'
        )


def say_faults(faults: Iterable[str]) -> None:
    """Say, beside the button, that something has to be mended first."""
    count = len(list(faults))
    if count:
        thing = "One field needs" if count == 1 else f"{count} fields need"
        st.html(f'<p class="cw-fault" role="alert">■ Not saved. {thing} mending: see above.</p>')


def clock() -> str:
    """Return the time of day as people read it."""
    return datetime.now().astimezone().strftime("%H:%M:%S")


def _ready(entry: Entry, name: str) -> str:
    """Return the key of a field's widget, and note what it is drawn with as long as it is there.

    That is the widget's own default and nothing written into the app's state: what is written there reaches the
    browser once only, and a browser that is drawn anew meanwhile takes the field for empty and says so at the next tap.
    """
    key = entry.widget(name)
    entry.names.add(name)
    if key not in st.session_state or key not in entry.at_first:
        entry.at_first[key] = entry.text_of(name)
    return key


@contextlib.contextmanager
def _field(entry: Entry, name: str, faults: Mapping[str, str]) -> Iterator[None]:
    """Draw a field and, under it, what is wrong with it.

    Both stand in a box of their own: what comes and goes within it moves no other field, so that nobody's typing is
    interrupted by a field that is drawn anew in another place.
    """
    with st.container():
        yield
        if name in faults and (entry.tried or entry.typing != name):
            st.html(f'<p class="cw-fault" role="alert">■ {words(faults[name])}</p>')


def _place(key: str) -> str:
    return f"entry of {key}"
