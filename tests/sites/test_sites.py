"""Sites on scores whose pieces can be counted by eye, and against scikit-image's own labelling."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from prospect.sites import cut_level, delineate_sites, rank_sites, site_statistics
from prospect.sites.delineate import HIGHEST_LEVEL, LOWEST_LEVEL


def two_patches() -> tuple[np.ndarray, np.ndarray]:
    score = np.full((20, 30), 0.2, np.float32)
    score[3:9, 3:9] = 0.9
    score[12:18, 15:27] = 0.7
    deposit = np.zeros(score.shape, np.int32)
    return score, deposit


def test_each_patch_is_one_site_measured_by_hand() -> None:
    score, deposit = two_patches()
    sites = delineate_sites(score, deposit, level=0.6, min_cells=4, max_cells=10_000)
    assert sites.max() == 1
    table = rank_sites(site_statistics(sites, score, {"twice": score * 2}, cell_area_ha=0.01))
    first = table.iloc[0]
    assert first["favourability"] == pytest.approx(0.9, abs=1e-6)
    assert first["twice"] == pytest.approx(1.8, abs=1e-6)
    assert first["area_ha"] == pytest.approx(first["cells"] * 0.01)
    assert {first["row"], first["col"]} <= {5, 6}, "the spot lies in the middle of the patch"


def test_a_site_never_crosses_from_one_deposit_to_another() -> None:
    score = np.full((10, 20), 0.8, np.float32)
    deposit = np.zeros(score.shape, np.int32)
    deposit[:, 10:] = 3
    sites = delineate_sites(score, deposit, level=0.5, min_cells=4, max_cells=10_000)
    assert sorted(np.unique(sites)) == [0, 1]
    assert not set(np.unique(sites[:, :10])) & set(np.unique(sites[:, 10:]))


def test_a_large_uneven_piece_is_narrowed_and_a_large_even_one_is_not() -> None:
    rows, cols = np.mgrid[0:60, 0:60]
    peaks = 0.55 + 0.4 * np.maximum(
        np.exp(-((rows - 15) ** 2 + (cols - 15) ** 2) / 80),
        np.exp(-((rows - 45) ** 2 + (cols - 45) ** 2) / 80),
    ).astype(np.float32)
    deposit = np.zeros(peaks.shape, np.int32)
    uneven = delineate_sites(peaks.astype(np.float32), deposit, level=0.5, min_cells=9, max_cells=300)
    assert uneven.max() == 1
    assert (uneven >= 0).sum() < peaks.size / 2
    even = delineate_sites(np.full((60, 60), 0.8, np.float32), deposit, level=0.5, min_cells=9, max_cells=300)
    assert even.max() == 0
    assert (even == 0).all()


def test_nothing_known_gives_no_sites() -> None:
    nothing = np.full((5, 5), np.nan, np.float32)
    sites = delineate_sites(nothing, np.full((5, 5), -1, np.int32), level=0.5, min_cells=1, max_cells=10)
    assert (sites == -1).all()
    assert site_statistics(sites, nothing, {}, 0.01).empty
    assert cut_level(nothing) == LOWEST_LEVEL


def test_the_level_stays_between_its_bounds() -> None:
    assert cut_level(np.full((4, 4), 0.1, np.float32)) == LOWEST_LEVEL
    assert cut_level(np.full((4, 4), 0.99, np.float32)) == HIGHEST_LEVEL
    assert cut_level(np.linspace(0, 1, 1001, dtype=np.float32).reshape(1, -1)) == pytest.approx(0.8, abs=1e-3)


@given(st.integers(0, 2**32 - 1))
@settings(max_examples=25, deadline=None)
def test_pieces_agree_with_scikit_image(seed: int) -> None:
    """Independent library: skimage.measure.label with the same neighbours on the same averaged mask."""
    from skimage.measure import label

    from prospect.sites.delineate import _averaged

    score = np.random.default_rng(seed).random((25, 31)).astype(np.float32)
    deposit = np.zeros(score.shape, np.int32)
    ours = delineate_sites(score, deposit, level=0.55, min_cells=1, max_cells=10**9)
    theirs = label(_averaged(score) >= 0.55, connectivity=2)
    assert ours.max() + 1 == theirs.max()
    assert ((ours >= 0) == (theirs > 0)).all()
    pairs = set(zip(ours[ours >= 0].tolist(), theirs[ours >= 0].tolist(), strict=True))
    assert len(pairs) == theirs.max()
