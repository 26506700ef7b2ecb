"""What to mind before, in and after a hole: calm, concrete, the same for every ground."""

from __future__ import annotations

import streamlit as st

CAUTIONS: tuple[tuple[str, tuple[str, ...]], ...] = (
    (
        "Before you go",
        (
            "Ask first. Leave to walk is not leave to dig, and leave to dig is not leave to take clay away.",
            "Have cables and pipes marked by the free service of your country before any hole, also a shallow one.",
            "Tell somebody where you are going and when you will be back.",
            "This map compares places. It has never seen the ground: believe your own eyes over it.",
        ),
    ),
    (
        "At the hole",
        (
            "Stay out of any hole deeper than your knee that you could not climb out of if one side slid in. "
            "Clay stands steep and falls without warning, most of all after rain.",
            "Do not dig into the foot of a bank, and do not undercut it.",
            "Keep out of creek beds and off wet banks: the water, the fish and the law all mind.",
            "Stop at bones, worked stone, old brick, pipes, glass or cloth: leave it as it lies and report it.",
            "Close the hole the same day, sod on top, and leave gates as you found them.",
        ),
    ),
    (
        "The stuff itself",
        (
            "Keep it damp. Dry clay dust holds fine quartz that harms lungs for good; wipe, never sweep.",
            "Green, scaly or fibrous rock (serpentine and its kin) can hold asbestos: leave such ground alone.",
            "Soil beside old orchards, mines, tips, roads and painted houses can hold lead or arsenic. "
            "Have it tested before hands, and above all children's hands, work it.",
            "Clay that smells of rotten eggs or shows rust-yellow crusts may hold sulphur: fire it in the open.",
            "A clay that is sound to fire is not thereby safe to eat from. Test the fired pot and its glaze.",
        ),
    ),
)
"""Sentences of our own; each is common practice among people who dig and fire clay."""


def screen() -> None:
    """Draw the screen."""
    st.html("<h1>Before you dig</h1>")
    for column, (title, sentences) in zip(st.columns(3, gap="large"), CAUTIONS, strict=True):
        items = "".join(f"<li>{sentence}</li>" for sentence in sentences)
        column.html(f'<section class="cw-care"><h2>{title}</h2><ul>{items}</ul></section>')
