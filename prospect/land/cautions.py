"""What always holds before any hole, whatever the map and the ledger say."""

from __future__ import annotations

LOCATE_FIRST = (
    "Before any hole, call the free utility-location service of your area and wait for the marks; private lines "
    "are not marked."
)
PIT_WALLS = (
    "A trench wall can fall without warning and a cubic metre of clay weighs about 1.8 t: no one in a hole deeper "
    "than 1.2 m (4 ft), never undercut a bank, fill open holes the same day."
)
EXCAVATION_RULES = (
    "Rules for employers in the United States, sound for everybody: walls of 5 ft (1.52 m) and more are sloped, "
    "shored or shielded unless in stable rock, and lower ones too where there is a sign of cave-in "
    "(29 CFR 1926.652(a)(1)); a ladder within 25 ft (7.6 m) of everyone in a trench of 4 ft (1.22 m) or more "
    "(29 CFR 1926.651(c)(2)); spoil at least 2 ft (0.6 m) back from the edge (29 CFR 1926.651(j)(2)); the air "
    "tested first in a hole deeper than 4 ft (1.22 m) where it may be bad (29 CFR 1926.651(g)(1)(i))."
)

CAUTIONS: tuple[str, ...] = (
    LOCATE_FIRST,
    "Find the well, the septic tank and its drain field before you dig; no map shows them reliably.",
    "Stop if bone, a hearth, pottery or worked stone appears: leave it, note the place and call the authority. "
    "Leave graves, mounds and old kilns alone.",
    PIT_WALLS,
    EXCAVATION_RULES,
    "Dry clay dust holds silica: work it damp, clean up wet, wear a fitted respirator when it is dry.",
    "Put the ground back as it was: topsoil kept apart and laid on last, sod or seed, gates as you found them, no "
    "mud into water.",
    "Map lines are not a survey: monuments and deeds decide, and a licensed surveyor where it matters.",
    "This map refers and never certifies: local law and licensed practice come first.",
)
"""Calm and concrete; the figures stand beside the paragraph they are from."""
