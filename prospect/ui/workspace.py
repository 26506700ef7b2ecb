"""What the open ground holds in memory, shared by the screens and by the picture routes."""

from __future__ import annotations

import contextlib
import secrets
import threading
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from pathlib import Path

import geopandas as gpd

from prospect.errors import GroundError
from prospect.land import uncertain_band
from prospect.layerfile import read_vector_layer
from prospect.pipeline import (
    Intake,
    LayerState,
    Scored,
    Wording,
    choose,
    find_sites,
    ground_grid,
    ground_report,
    layer_states,
    read_file_guarded,
    read_for,
    score,
    take_in,
)
from prospect.records import GroundReport, Purpose, Sample, Site
from prospect.store import Ground, RecordsDamaged
from prospect.types import Bounds
from prospect.ui.rock_colours import unit_lineages, with_rock_colours

_KEPT_SCORES = 4
SITES_SHOWN = 20
_SitesKey = tuple[str, str, tuple[int, str]]
SIDES = "sides"
"""The layer of our own that shows where the side of a parcel line is not certain."""
_PHONE_ERROR_M = 5.0
VIEW_LAYERS: tuple[str, ...] = (
    "geology",
    "soil",
    "parcels",
    "water",
    "wetlands",
    "keepouts",
    "roads",
    "structures",
    "leads",
    "faces",
    "outline",
    "samples",
    SIDES,
)
"""The layers that a view may ask for by name, besides `sites`."""


@dataclass(slots=True)
class Workspace:
    """One open ground.

    Scores and layers are read once and read again when a file behind them changes. Screens and routes run in
    different threads, so everything goes through one lock.

    Attributes
    ----------
    folder
        The ground's folder.
    token
        A word made anew at every start, without which the routes give no data: only our own screens know it.
    """

    folder: Path
    token: str = field(default_factory=lambda: secrets.token_urlsafe(24), repr=False)
    _lock: threading.RLock = field(default_factory=threading.RLock)
    _hold: contextlib.ExitStack = field(default_factory=contextlib.ExitStack, repr=False)
    _holding: bool = False
    _good_copy: Ground | None = field(default=None, repr=False)
    _scores: OrderedDict[tuple[object, ...], Scored] = field(default_factory=OrderedDict)
    _shown: dict[str, Scored] = field(default_factory=dict)
    _sites: dict[_SitesKey, tuple[tuple[Site, ...], gpd.GeoDataFrame]] = field(default_factory=dict)
    _frames: dict[str, tuple[int, gpd.GeoDataFrame]] = field(default_factory=dict)

    @property
    def ground(self) -> Ground:
        """The ground, opened anew so that what another program saved is seen; held from the first time on.

        While another program holds it, it is open for looking only; so is what there is of damaged records, once
        somebody asked to look at that.

        Raises
        ------
        GroundError
            When it cannot be opened; `RecordsDamaged` when its records are damaged.
        """
        try:
            ground = Ground.open(self.folder)
        except RecordsDamaged:
            if self._good_copy is None:
                raise
            return self._good_copy
        self._good_copy = None
        return ground if ground.read_only else replace(ground, read_only=self._held_elsewhere(ground))

    def look_only(self) -> None:
        """Show the last good copy of damaged records, for looking only, as long as they are damaged."""
        with self._lock:
            self._good_copy = Ground.rescue(self.folder)

    def let_go(self) -> None:
        """Let others hold the ground."""
        with self._lock:
            self._hold.close()
            self._holding = False

    def _held_elsewhere(self, ground: Ground) -> str:
        """Hold the ground if nobody else does; return why that is not possible, empty when it is held."""
        with self._lock:
            if self._holding:
                return ""
            holder = ground.holder()
            if holder is not None:
                return f"{holder.sentence()} has it open. Close it there."
            try:
                self._hold.enter_context(ground.held())
            except GroundError as error:
                return str(error)
            self._holding = True
            return ""

    def scored(self, purpose: Purpose) -> Scored:
        """Return the scores for a purpose, computed when something changed since."""
        with self._lock:
            key = (purpose, self._stamp())
            if key not in self._scores:
                fresh = score(self.ground, choose(self.ground, purpose=purpose))
                self._scores[key] = self._shown[fresh.revision] = fresh
                while len(self._scores) > _KEPT_SCORES:
                    self._scores.popitem(last=False)
                kept = {held.revision for held in self._scores.values()}
                for revision in self._shown.keys() - kept:
                    del self._shown[revision]
            return self._scores[key]

    def at_revision(self, revision: str) -> Scored | None:
        """Return scores that a screen has shown, for the routes; None when they are gone.

        Takes no lock, so that pictures come while other scores are being computed.
        """
        return self._shown.get(revision)

    def sites(self, scored: Scored, deposit: str) -> tuple[Site, ...]:
        """Return the ranked sites of one deposit model, or of the best of all with ''."""
        return self._found(scored, deposit)[0]

    def site_frame(self, revision: str, deposit: str) -> gpd.GeoDataFrame | None:
        """Return the outlines of the ranked sites in EPSG:4326; None when there are no such scores."""
        scored = self.at_revision(revision)
        if scored is None or deposit not in ("", *scored.keys):
            return None
        return self._found(scored, deposit)[1]

    def site_bounds(self, scored: Scored, deposit: str, site: int) -> Bounds | None:
        """Return the box around a site in degrees."""
        frame = self._found(scored, deposit)[1]
        shapes = frame.geometry[frame["site"] == site]
        return Bounds(*shapes.total_bounds) if len(shapes) else None

    def report(self, scored: Scored, lon: float, lat: float, today: str) -> GroundReport:
        """Return everything known about a spot on a day."""
        with self._lock:
            return ground_report(self.ground, scored, lon, lat, on=today)

    def add(self, kind: str, path: Path, wording: Wording, *, today: str, replace_layer: bool) -> Intake:
        """Read a file into the ground; it is read in a process of its own, while the screens go on."""
        reading = read_for(self.ground, kind, path, wording, read=read_file_guarded)
        with self._lock:
            try:
                return take_in(self.ground, reading, today=today, replace_layer=replace_layer)
            finally:
                self.forget()

    def layer_states(self) -> tuple[LayerState, ...]:
        """Return what is there, what is missing and what it costs."""
        return layer_states(self.ground)

    def people(self) -> frozenset[str]:
        """Return every name that stands on record with a permission or a look at the place."""
        ground = self.ground
        asked = {entry.person for entry in ground.permissions()}
        return frozenset((asked | {entry.person for entry in ground.looked()}) - {""})

    def samples(self) -> tuple[Sample, ...]:
        """Return every sample on record."""
        return self.ground.samples()

    def frame(self, layer: str) -> gpd.GeoDataFrame | None:
        """Return a layer's shapes in EPSG:4326, or None when the ground has none."""
        if layer not in VIEW_LAYERS:
            return None
        if layer == "samples":
            return _sample_frame(self.samples())
        ground = self.ground
        file = "parcels" if layer == SIDES else layer
        if file not in ground.layers():
            return None
        with self._lock:
            stamp = self.layer_stamp(layer)
            held = self._frames.get(layer)
            if held is None or held[0] != stamp:
                frame = read_vector_layer(ground.layers_folder, file)
                if layer == SIDES:
                    on_grid = frame.to_crs(ground_grid(ground).crs)
                    frame = uncertain_band(on_grid, _PHONE_ERROR_M, ground.settings.line_error_m)
                frame = frame.to_crs("EPSG:4326")
                if layer == "geology":
                    frame = with_rock_colours(frame, ground.rock_corrections())
                held = (stamp, frame)
                self._frames[layer] = held
            return held[1]

    def rock_lineages(self) -> Mapping[str, tuple[str, ...]]:
        """Return each map unit's lithology term with its broader terms; empty without a rock map."""
        frame = self.frame("geology")
        return {} if frame is None else unit_lineages(frame, self.ground.rock_corrections())

    def layer_stamp(self, layer: str) -> int:
        """Return a number that changes when the file of a layer (or the records) changes."""
        if layer == "samples":
            return self.ground.records_stamp
        path = self.folder / f"layers/{'parcels' if layer == SIDES else layer}.gpkg"
        stamp = path.stat().st_mtime_ns if path.exists() else 0
        # The band is as wide as the error of the lines, which is a setting.
        return stamp + round(self.ground.settings.line_error_m * 1000) if layer == SIDES else stamp

    def forget(self) -> None:
        """Drop what was read, after an import."""
        with self._lock:
            self._frames.clear()
            self._sites.clear()

    def _found(self, scored: Scored, deposit: str) -> tuple[tuple[Site, ...], gpd.GeoDataFrame]:
        with self._lock:
            ground, today = self.ground, date.today().isoformat()
            # Leave that was given, or has ended, changes what a site says of itself.
            saved = (ground.records_stamp, today)
            key = (scored.revision, deposit, saved)
            if key not in self._sites:
                self._sites = {held: found for held, found in self._sites.items() if held[2] == saved}
                sites, frame = find_sites(ground, scored, deposit=deposit or None, top=SITES_SHOWN, on=today)
                self._sites[key] = (sites, frame.to_crs("EPSG:4326"))
            return self._sites[key]

    def _stamp(self) -> tuple[object, ...]:
        folder = self.folder / "layers"
        files = sorted(folder.glob("*")) if folder.is_dir() else []
        return (
            *((path.name, path.stat().st_mtime_ns) for path in files if not path.name.startswith(".")),
            self.ground.records_stamp,
        )


def _sample_frame(samples: tuple[Sample, ...]) -> gpd.GeoDataFrame:
    columns: Mapping[str, list[str]] = {
        "sample": [sample.sample_id for sample in samples],
        "usable": [sample.usable for sample in samples],
    }
    points = gpd.points_from_xy([s.lon for s in samples], [s.lat for s in samples])
    return gpd.GeoDataFrame(columns, geometry=points, crs="EPSG:4326")
