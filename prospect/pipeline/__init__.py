"""The whole order of the work, readable aloud: read, lay on the grid, derive, score, cut sites, explain, share."""

from prospect.pipeline.area import area_around, area_from_lonlat, ground_grid
from prospect.pipeline.candidates import find_sites
from prospect.pipeline.factors import Landscape, build_landscape
from prospect.pipeline.intake import Intake, add_layer, read_for, remove_layer, take_in
from prospect.pipeline.leave import ground_ledger, ground_terms, keep_out_rules, land_checks
from prospect.pipeline.log_intake import LogIntake, against_record, read_log_text, take_log
from prospect.pipeline.overview import (
    LayerState,
    correct_rocks,
    layer_states,
    outline_area,
    rock_readings,
    share_content,
)
from prospect.pipeline.reading import (
    CHECKED_KINDS,
    KINDS,
    LARGE,
    USUAL,
    LogReading,
    Reading,
    Wording,
    check_deposit_model,
    read_file,
    read_file_guarded,
)
from prospect.pipeline.report import ground_report, land_check, probe, read_probe_points
from prospect.pipeline.score import Choice, Scored, choose, score, score_folder

__all__ = [
    "CHECKED_KINDS",
    "KINDS",
    "LARGE",
    "USUAL",
    "Choice",
    "Intake",
    "Landscape",
    "LayerState",
    "LogIntake",
    "LogReading",
    "Reading",
    "Scored",
    "Wording",
    "add_layer",
    "against_record",
    "area_around",
    "area_from_lonlat",
    "build_landscape",
    "check_deposit_model",
    "choose",
    "correct_rocks",
    "find_sites",
    "ground_grid",
    "ground_ledger",
    "ground_report",
    "ground_terms",
    "keep_out_rules",
    "land_check",
    "land_checks",
    "layer_states",
    "outline_area",
    "probe",
    "read_file",
    "read_file_guarded",
    "read_for",
    "read_log_text",
    "read_probe_points",
    "remove_layer",
    "rock_readings",
    "score",
    "score_folder",
    "share_content",
    "take_in",
    "take_log",
]
