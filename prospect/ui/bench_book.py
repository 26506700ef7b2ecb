"""The log book as the screens of the bench read it: once for each state of the records."""

from __future__ import annotations

from collections import OrderedDict
from threading import Lock

from prospect.clay import ClayReport
from prospect.pipeline.clay_reports import clay_report
from prospect.records import LogBook
from prospect.store import Ground
from prospect.ui.bench_reading import PREPARATIONS

_KEPT = 2
_REPORTS_KEPT = 8
_books: OrderedDict[tuple[str, int], LogBook] = OrderedDict()
_reports: OrderedDict[tuple[str, int, int, str], ClayReport] = OrderedDict()
_lock = Lock()


def book_of(ground: Ground) -> LogBook:
    """Return everything in the log; read again when the records have changed."""
    key = (str(ground.folder), ground.records_stamp)
    with _lock:
        if key in _books:
            return _books[key]
    book = ground.log_book()
    with _lock:
        _books[key] = book
        while len(_books) > _KEPT:
            _books.popitem(last=False)
    return book


def report_of(ground: Ground, specimen: str) -> ClayReport:
    """Return what is known of a sample or batch, what it means for the ground's purpose, and what the maps add."""
    key = (str(ground.folder), ground.records_stamp, _layers_stamp(ground), specimen)
    with _lock:
        if key in _reports:
            return _reports[key]
    report = clay_report(ground, specimen, book=book_of(ground))
    with _lock:
        _reports[key] = report
        while len(_reports) > _REPORTS_KEPT:
            _reports.popitem(last=False)
    return report


def _layers_stamp(ground: Ground) -> int:
    """Return a number that changes when a layer does."""
    try:
        return max(
            path.stat().st_mtime_ns for path in (ground.layers_folder, *ground.layers_folder.iterdir())
        )
    except (OSError, ValueError):
        return 0


def specimens(book: LogBook) -> list[str]:
    """Return the names that a bar or a test can be of, the newest first: samples, then batches."""
    samples = [sample.sample_id for sample in reversed(book.samples)]
    return list(dict.fromkeys((*samples, *(batch.batch_id for batch in reversed(book.batches)))))


def preparations(book: LogBook) -> list[str]:
    """Return what clay goes through on this ground: the usual words, then those in use."""
    used = (one.preparation for items in (book.bars, book.tests) for one in items)
    return list(dict.fromkeys((*PREPARATIONS, *used)))
