"""The pictures on a clay's page: those that have something to show, of the preparation that was chosen."""

from __future__ import annotations

import base64

from prospect.clay import assess, specimen_of
from prospect.records import Bar, BenchTest, LogBook, Sample
from prospect.ui.clay_charts import clay_charts

SAMPLE = Sample("S<1>", 0.0, 0.0)
LIMITS = BenchTest("t", "S<1>", "limits", values={"liquid_limit_pct": 45.0, "plastic_limit_pct": 22.0})
JAR = BenchTest("j", "S<1>", "jar", values={"sand_mm": 20.0, "sand_and_silt_mm": 50.0, "all_mm": 100.0})
BAR = Bar("b", "S<1>", plastic_mm=100.0, fired_mm=88.0, fired_g=100.0, saturated_g=108.0, cone="04")


def pictures(*parts: object, units: str = "metric") -> str:
    book = LogBook(
        samples=(SAMPLE,),
        bars=tuple(part for part in parts if isinstance(part, Bar)),
        tests=tuple(part for part in parts if isinstance(part, BenchTest)),
    )
    report = assess(specimen_of(book, SAMPLE.sample_id), "earthenware")
    return clay_charts(report, report.preparations[0], units)


def test_only_what_was_measured_is_drawn() -> None:
    assert pictures() == ""
    assert pictures(LIMITS).count("<img") == 1
    assert pictures(LIMITS, JAR, BAR).count("<img") == 3
    backwards = BenchTest("x", "S<1>", "limits", values={"liquid_limit_pct": 20.0, "plastic_limit_pct": 30.0})
    assert pictures(backwards) == ""


def test_names_are_words_and_the_wanted_use_is_shown() -> None:
    drawn = pictures(LIMITS, JAR, BAR, units="us")
    assert "S&#60;1&#62;" in drawn
    assert "<1>" not in drawn
    assert "for throwing earthenware" in drawn
    inside = [base64.b64decode(part.split('"')[0]).decode() for part in drawn.split("base64,")[1:]]
    assert len(inside) == 3
    assert any("absorption wanted" in svg and "°F" in svg for svg in inside)
    assert not any("<1>" in svg for svg in inside)
