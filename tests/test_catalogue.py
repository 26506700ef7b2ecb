"""Every open layer says from whom and under which licence it comes, and serves a kind that exists."""

from __future__ import annotations

from prospect.catalogue import read_catalogue
from prospect.definitions import layers_folder


def test_each_layer_serves_a_known_kind_and_states_its_licence() -> None:
    catalogue = read_catalogue()
    kinds = {kind.key for kind in catalogue.kind}
    files = {path.stem for path in (layers_folder() / "catalogue").glob("*.toml")}
    assert {layer.key for layer in catalogue.layers} == files
    for layer in catalogue.layers:
        assert layer.kind in kinds
        assert layer.licence
        assert layer.attribution
        assert layer.publisher


def test_the_three_layers_that_define_deposits_say_where_they_can_be_had() -> None:
    catalogue = read_catalogue()
    defining = [kind.key for kind in catalogue.kind if kind.serves == "defining"]
    assert defining == ["elevation", "geology", "soil"]
    for key in defining:
        assert catalogue.sources_of(key)
