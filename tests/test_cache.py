"""Kept arrays come back exactly; damage and a changed key are a miss, never an error."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from prospect.cache import ArrayCache, content_key, file_key


def test_arrays_come_back_and_the_older_key_goes(tmp_path: Path) -> None:
    cache = ArrayCache(tmp_path / "derived")
    values = np.array([[1.5, np.nan]], np.float32)
    cache.save("terrain", "k1", {"slope": values})
    cache.save("terrain", "k2", {"slope": values * 2})
    assert cache.load("terrain", "k1") is None
    np.testing.assert_array_equal(cache.load("terrain", "k2")["slope"], values * 2)
    assert len(list((tmp_path / "derived").iterdir())) == 1


def test_a_damaged_file_is_a_miss_and_is_cleared(tmp_path: Path) -> None:
    cache = ArrayCache(tmp_path)
    cache.save("terrain", "k", {"slope": np.zeros(1000)})
    path = tmp_path / "terrain-k.npz"
    path.write_bytes(path.read_bytes()[:500])
    assert cache.load("terrain", "k") is None
    assert not path.exists()


def test_keys_follow_content(tmp_path: Path) -> None:
    one, two = tmp_path / "one", tmp_path / "two"
    one.write_bytes(b"clay")
    two.write_bytes(b"clay")
    assert file_key(one) == file_key(two)
    two.write_bytes(b"sand")
    assert file_key(one) != file_key(two)
    assert content_key({"b": 1, "a": 2}) == content_key({"a": 2, "b": 1}) != content_key({"a": 2, "b": 2})
