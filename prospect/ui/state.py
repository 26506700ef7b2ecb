"""What one visitor has chosen, kept between runs of the screens."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import streamlit as st

from prospect.records import Purpose
from prospect.ui.show_map import Click

_KEY = "claywalk"
GROUND_COLOURS: dict[str, str] = {
    "worth": "how well worth a look",
    "rocks": "which rock lies there",
    "relief": "only the lie of the land",
}


@dataclass(slots=True)
class AppState:
    """Choices and the spot being read.

    Attributes
    ----------
    deposit
        Deposit model shown; '' = the best of all.
    purpose
        What the clay is for; None until taken from the ground's settings.
    colour_by
        What the ground's colour says: a key of `GROUND_COLOURS`.
    overlays
        Lines and marks shown over the colour.
    spot
        Longitude and latitude of the spot being read, or None.
    site
        Rank of the site chosen from the list; 0 = none.
    last_click
        The click already answered.
    went_to
        The spot given in numbers that the map was last moved to, or None.
    first_shown
        What each choice showed when it was last drawn anew, by its key: a choice must be offered with the same
        value again for as long as it stays on the screen.
    moves
        How often the map was told to move; its target's name changes with it.
    sample
        Name of the sample whose page is open; empty = the list.
    leaf, parcels_leaf
        Which leaf of the list of samples and of that of parcels is open, from 0.
    hole
        Name of the hole whose page is open; empty = the list.
    holes_leaf
        Which leaf of the list of holes is open, from 0.
    parcel
        Identifier of the parcel whose permissions are open; None = the list.
    asked
        What was asked for once and is to be asked again before it is done; empty when nothing was.
    said
        What came of the last action, to be said once.
    """

    deposit: str = ""
    purpose: Purpose | None = None
    colour_by: str = "worth"
    overlays: set[str] = field(default_factory=lambda: {"sites", "water", "known"})
    spot: tuple[float, float] | None = None
    site: int = 0
    last_click: Click | None = None
    moves: int = 0
    went_to: tuple[float, float] | None = None
    first_shown: dict[str, object] = field(default_factory=dict)
    sample: str = ""
    leaf: int = 0
    parcels_leaf: int = 0
    hole: str = ""
    holes_leaf: int = 0
    parcel: str | None = None
    asked: str = ""
    said: str = ""

    def shown_first(self, key: str, now: object) -> Any:
        """Return the value to draw a choice with: `now` when it appears, later what it appeared with."""
        if key not in st.session_state:
            self.first_shown[key] = now
        return self.first_shown.setdefault(key, now)

    def read_spot(self, lon: float, lat: float) -> None:
        """Read a spot that was pointed at."""
        self.spot = (lon, lat)
        self.site = 0

    def go_to(self, lon: float, lat: float) -> None:
        """Move the map to a spot given in numbers and read it."""
        self.read_spot(lon, lat)
        self.moves += 1
        self.went_to = (lon, lat)

    def choose_site(self, site: int, lon: float, lat: float) -> None:
        """Go to a site and read its best spot."""
        self.spot = (lon, lat)
        self.site = site
        self.moves += 1
        self.went_to = None

    def back_to_sites(self) -> None:
        """Put the page away and show the list again."""
        self.spot = None
        self.site = 0

    def answer(self, click: Click | None) -> bool:
        """Take a click from the map; return whether it is a new one."""
        if click is None or click == self.last_click:
            return False
        self.last_click = click
        self.read_spot(click.lon, click.lat)
        return True


def app_state() -> AppState:
    """Return this visitor's state."""
    if _KEY not in st.session_state:
        st.session_state[_KEY] = AppState()
    return st.session_state[_KEY]
