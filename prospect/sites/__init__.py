"""Cuts candidate ground out of the score, measures it, ranks it."""

from prospect.sites.delineate import cut_level, delineate_sites
from prospect.sites.measure import rank_sites, site_statistics

__all__ = ["cut_level", "delineate_sites", "rank_sites", "site_statistics"]
