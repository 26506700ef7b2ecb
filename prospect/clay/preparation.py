"""What a clay went through before it was tested: raw, screened, washed or blended."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

from prospect.text import plain

_MESH = re.compile(
    r"(\d{1,3})\s*(?:mesh|#|m\b)|(?:mesh|screen(?:ed)?|siev(?:ed|e))\s*(?:at|to|through)?\s*(\d{1,3})", re.I
)
_BLEND = re.compile(r"(\d{1,2}(?:[.,]\d+)?)\s*%\s*(?:of\s+)?(.+)", re.I)
_WASHED = re.compile(r"wash|levigat|slak\w* and|settled|decant", re.I)


@dataclass(frozen=True, slots=True)
class Preparation:
    """How a clay was prepared.

    Attributes
    ----------
    kind
        `raw`, `screened`, `washed`, `blended` or `other`.
    mesh
        Meshes per inch of the finest screen; None when not screened or not said.
    share_pct, blended_with
        What was added and how much of it, percent of the whole; None and '' otherwise.
    text
        As it is written on record.
    """

    kind: Literal["raw", "screened", "washed", "blended", "other"]
    mesh: float | None = None
    share_pct: float | None = None
    blended_with: str = ""
    text: str = "raw"

    @property
    def words(self) -> str:
        """What to call it."""
        screen = f" through {self.mesh:g} mesh" if self.mesh else ""
        if self.kind == "blended":
            return f"blended with {self.share_pct:g} % {self.blended_with}{',' if screen else ''}{screen}"
        if self.kind == "other":
            return self.text
        return f"{self.kind}{screen}" if self.kind != "raw" else "raw, as dug"


def read_preparation(text: str) -> Preparation:
    """Return what a person wrote of a preparation; nothing written is raw."""
    said = plain(text, 80).strip()
    low = said.lower()
    mesh = next((float(number) for match in _MESH.finditer(low) for number in match.groups() if number), None)
    if not low or low in ("raw", "as dug", "as is", "none", "unscreened", "natural"):
        return Preparation("raw", text=said or "raw")
    blend = _BLEND.search(re.sub(r"^(?:blended|blend|mixed|mix)\b:?\s*(?:with\s+)?", "", low))
    if blend:
        share = float(blend[1].replace(",", "."))
        return Preparation("blended", mesh, share, blend[2].strip(" .,"), said)
    if _WASHED.search(low):
        return Preparation("washed", mesh, text=said)
    if mesh is not None:
        return Preparation("screened", mesh, text=said)
    return Preparation("other", text=said)


def same_preparation(one: str, other: str) -> bool:
    """Whether two ways of writing mean one preparation."""
    first, second = read_preparation(one), read_preparation(other)
    if "other" in (first.kind, second.kind):
        return first.text.lower() == second.text.lower()
    return (first.kind, first.mesh, first.share_pct, first.blended_with) == (
        second.kind,
        second.mesh,
        second.share_pct,
        second.blended_with,
    )
