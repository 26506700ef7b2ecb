"""Puts what a form of the bench says on record: tests, batches and sets of bars."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date

from prospect.errors import ProspectError, WrongUsage
from prospect.records import Bar, Batch, BenchTest, LogBook
from prospect.store import ChangedMeanwhile, Ground, LogKind, OnRecord
from prospect.ui.bench_reading import BenchReading
from prospect.ui.entry import BLANK, WAS, Entry, clock, close, keep, new_key, ready_to_save

Item = Bar | BenchTest | Batch
OF, REVISION, CLASH = "of", "revision", "clash"


@dataclass(frozen=True, slots=True)
class BenchForm:
    """What the forms of the bench differ in.

    Attributes
    ----------
    kind
        First word of its drafts' keys.
    record
        The kind of record that it makes.
    noun, plural
        What such a record is called.
    read
        From the fields, the units, today and mark → the record being changed, to what the form says.
    content_of
        From a record and the units to the fields of one item.
    marks
        From the fields to the marks of the items; one item alone has the mark ''.
    called
        From a field of one item to what it is called.
    shown
        From a field of one item and its text to the way it is said.
    """

    kind: str
    record: LogKind
    noun: str
    plural: str
    read: Callable[[Mapping[str, str], str, str, Mapping[str, Item]], BenchReading]
    content_of: Callable[[Item, str], dict[str, str]]
    marks: Callable[[Mapping[str, str]], list[str]]
    called: Callable[[str], str]
    shown: Callable[[str, str], str]


def of_mark(mark: str, name: str) -> str:
    """Return the name that a field of one item goes by in the form."""
    return f"{mark} {name}" if mark else name


def own_content(content: Mapping[str, str], mark: str) -> dict[str, str]:
    """Return the fields of one item by the names that they have on their own."""
    if not mark:
        return dict(content)
    prefix = f"{mark} "
    return {name.removeprefix(prefix): text for name, text in content.items() if name.startswith(prefix)}


def name_of(item: Item) -> str:
    """Return the short name of a record."""
    if isinstance(item, Bar):
        return item.bar_id
    return item.test_id if isinstance(item, BenchTest) else item.batch_id


def origins(form: BenchForm, mark: str, held: OnRecord, system: str) -> dict[str, str]:
    """Return what a change of a record has to know of it."""
    item = held.item
    if not isinstance(item, Bar | BenchTest | Batch):
        return {}
    content = form.content_of(item, system)
    return {
        of_mark(mark, OF): name_of(item),
        of_mark(mark, REVISION): str(held.revision),
        **{WAS + of_mark(mark, name): text for name, text in content.items()},
    }


def begin(ground: Ground, form: BenchForm, content: Mapping[str, str]) -> str:
    """Open a form with what its fields begin with; return its key. Forms that nobody typed into are forgotten."""
    for draft in ground.pending():
        if draft.key.startswith(f"{form.kind} ") and BLANK in draft.content:
            ground.drop_draft(draft.key)
    key = new_key(form.kind)
    ground.keep_draft(key, {BLANK: "yes", **content})
    return key


def begin_change(
    ground: Ground, form: BenchForm, names: Sequence[str], more: Mapping[str, str] | None = None
) -> str:
    """Open a form for records, each with the revision that its change begins from; return its key."""
    system = ground.settings.units
    content: dict[str, str] = dict(more or {})
    for number, name in enumerate(names, 1):
        held = ground.on_record(form.record, name)
        if held is None or not isinstance(held.item, Bar | BenchTest | Batch):
            raise WrongUsage(f"There is no {form.noun} {name} on record any more.")
        mark = str(number) if form.record == "bar" else ""
        fields = form.content_of(held.item, system)
        content |= {of_mark(mark, field): text for field, text in fields.items()}
        content |= origins(form, mark, held, system)
    return begin(ground, form, content)


def on_record(ground: Ground, form: BenchForm, entry: Entry) -> dict[str, OnRecord]:
    """Return mark → the record that the form changes, of those that are still there."""
    found = {}
    for mark in form.marks(entry.content):
        name = entry.text_of(of_mark(mark, OF))
        held = ground.on_record(form.record, name) if name else None
        if held is not None:
            found[mark] = held
    return found


def read_form(
    ground: Ground, form: BenchForm, entry: Entry, held: Mapping[str, OnRecord] | None = None
) -> BenchReading:
    """Read the form, and look whether the names of new records are free."""
    held = on_record(ground, form, entry) if held is None else held
    onto = {mark: one.item for mark, one in held.items() if isinstance(one.item, Bar | BenchTest | Batch)}
    system, today = ground.settings.units, date.today().isoformat()
    reading = form.read(entry.content, system, today, onto)
    taken = {}
    for mark, item in zip(form.marks(entry.content), reading.items, strict=False):
        if of_mark(mark, OF) in entry.content:
            continue
        other = ground.on_record(form.record, name_of(item))
        if other is not None and other.item != item:
            taken[of_mark(mark, "name")] = (
                f"There is a {form.noun} of that name already, and it is never written over."
            )
    return replace(reading, items=(), wrong={**reading.wrong, **taken}) if taken else reading


def save(ground: Ground, form: BenchForm, entry: Entry) -> None:
    """Put everything that the form says on record; what clashes is shown, and nothing of it is lost."""
    if not ready_to_save(ground, entry):
        return
    held = on_record(ground, form, entry)
    reading = read_form(ground, form, entry, held)
    if not reading.items:
        return
    pairs = list(zip(form.marks(entry.content), reading.items, strict=True))
    try:
        _put(ground, form, entry, held, pairs)
    except ChangedMeanwhile:
        entry.content[CLASH] = "yes"
        entry.tried = False
        keep(ground, entry)
    except ProspectError as error:
        entry.trouble = f"Not saved: {error}"
    else:
        close(ground, entry, f"Saved: {_names(form, reading.items)}, {clock()}.")


def what_became(ground: Ground, key: str) -> str:
    """Return what became of a form whose draft is gone."""
    if any(key in change.detail for change in ground.audit()):
        return "Saved. That was before this page was loaded anew; it stands in the list."
    return "Nothing is being typed there any more: it was saved or put away."


def _put(
    ground: Ground,
    form: BenchForm,
    entry: Entry,
    held: Mapping[str, OnRecord],
    pairs: Sequence[tuple[str, Item]],
) -> None:
    """Save what was changed and what is new in one go, to be taken back in one go."""
    changed = [
        OnRecord(item, int(revision))
        for mark, item in pairs
        if (revision := entry.text_of(of_mark(mark, REVISION)))
        and not (mark in held and held[mark].item == item)
    ]
    new = _book([item for mark, item in pairs if of_mark(mark, OF) not in entry.content])
    if not ground.add_log(new, changed=changed, origin=f"the app ({entry.key})"):
        return
    # What was changed is saved: a second try begins from there.
    for mark, item in pairs:
        if entry.text_of(of_mark(mark, REVISION)) and (saved := ground.on_record(form.record, name_of(item))):
            for name in [one for one in entry.content if one.startswith(WAS + of_mark(mark, ""))]:
                del entry.content[name]
            entry.content |= origins(form, mark, saved, ground.settings.units)
    keep(ground, entry)
    raise WrongUsage(f"a {form.noun} of that name was put on record meanwhile. Give it another name.")


def _book(items: Sequence[Item]) -> LogBook:
    return LogBook(
        bars=tuple(item for item in items if isinstance(item, Bar)),
        tests=tuple(item for item in items if isinstance(item, BenchTest)),
        batches=tuple(item for item in items if isinstance(item, Batch)),
    )


def _names(form: BenchForm, items: Sequence[Item]) -> str:
    names = [name_of(item) for item in items]
    if len(names) == 1:
        return f"{form.noun} {names[0]}"
    return f"{len(names)} {form.plural}, {names[0]} to {names[-1]}"
