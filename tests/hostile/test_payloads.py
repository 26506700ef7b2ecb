"""Text that would run somewhere comes through the readers as it is; only the encoders change it, on its way out."""

from __future__ import annotations

import json

from corpus.case import collection, feature

from prospect.sources.geology import read_geologic_units
from prospect.text import escape_html, escape_script


def test_payloads_come_through_verbatim(tmp_path):
    payload = "${alert(1)}`</script><img src=x onerror=alert(1)>{{7*7}}{%x%}_a1 \u202e=1+1"
    path = tmp_path / "map.geojson"
    path.write_text(collection(feature(rocks=payload)))
    units, _, _ = read_geologic_units(path)
    words = units["rocks"][0]
    assert words == payload
    assert json.loads(escape_script(words)) == payload
    assert not set("<>{}`$%") & set(escape_html(words))
