"""What is saved of photos is said, also where a part of it could not be."""

from __future__ import annotations

from types import SimpleNamespace

import pytest

from prospect.errors import GroundError
from prospect.ui import bring_photos


def match(hole: str = "", lon: float | None = None) -> SimpleNamespace:
    return SimpleNamespace(photo=None, hole_id=hole, lon=lon)


def test_photos_that_are_attached_are_said_to_be_though_the_faces_fail(monkeypatch):
    def fails(*given):
        raise GroundError("No space left on device.")

    notes = SimpleNamespace(notes=("1 photo attached.",))
    monkeypatch.setattr(bring_photos, "attach_photos", lambda *given: notes)
    monkeypatch.setattr(bring_photos, "photos_as_holes", fails)
    told = bring_photos.save_photos(None, None, [match("H1"), match(lon=-126.0)])
    assert told == "1 photo attached. The new faces are not saved: No space left on device."
    with pytest.raises(GroundError):
        bring_photos.save_photos(None, None, [match(lon=-126.0)])
    assert bring_photos.save_photos(None, None, [match()]).startswith("Nothing was saved")
