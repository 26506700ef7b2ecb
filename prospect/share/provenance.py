"""Where layers come from, in words that name no file of the user's."""

from __future__ import annotations

import re
from collections.abc import Sequence

from prospect.layerfile import LayerSource

OWN_FILE = "own file"
"""Stands for the name of a file, which may name people and places."""
_JOINTS = ("; ", ", routed over ", "your setting")


def layer_sentence(source: LayerSource) -> str:
    """Return where a layer comes from, with publisher and licence where they are known."""
    extra = "; ".join(word for word in (source.attribution, source.licence) if word)
    return f"{source.kind}: {source.sentence()}" + (f" ({extra})" if extra else "")


def without_file(source: LayerSource) -> LayerSource:
    """Return a source with kind, publisher, licence and date, and nothing else."""
    return LayerSource(
        source.kind,
        OWN_FILE,
        "",
        licence=source.licence,
        attribution=source.attribution,
        vintage=source.vintage,
    )


def words_without_files(text: str, layers: Sequence[LayerSource]) -> str:
    """Return where a reading came from with each layer's kind in place of its file; empty where that is not sure.

    Parameters
    ----------
    text
        Sentences of `LayerSource.sentence`, joined.
    layers
        Every layer of the ground.
    """
    kinds = {layer.sentence(): _kind_words(layer) for layer in layers if layer.sentence()}
    known = sorted((*kinds, *_JOINTS), key=len, reverse=True)
    pattern = "|".join(re.escape(sentence) for sentence in known)
    if not re.fullmatch(f"(?:{pattern})*", text):
        return ""
    return re.sub(pattern, lambda found: kinds.get(found[0], found[0]), text)


def _kind_words(source: LayerSource) -> str:
    return f"{source.kind} layer, {source.vintage}" if source.vintage else f"{source.kind} layer"
