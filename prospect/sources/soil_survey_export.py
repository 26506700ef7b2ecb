"""Finds the survey areas inside a soil survey export: a folder, a zip archive, or a folder of zip archives."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from prospect.guard.archive import open_archive
from prospect.guard.folder import files_below
from prospect.guard.inspection import check_path, inspect_file
from prospect.guard.refusal import refuse_file
from prospect.issues import Issue, IssueLog

_POLYGONS = re.compile(r"^soilmu_a_.*\.shp$", re.IGNORECASE)
_PARTS = frozenset({"spatial", "tabular"})


@dataclass(frozen=True, slots=True)
class SurveyFiles:
    """The files of one survey area, or of several that share their tables.

    Attributes
    ----------
    name
        What the polygon files are named after, for people: usually the area's symbol.
    polygons
        Shapefiles of map units.
    tables
        Lower-case file name without ending to path.
    """

    name: str
    polygons: tuple[Path, ...]
    tables: Mapping[str, Path]


@contextmanager
def open_export(path: Path, log: IssueLog) -> Iterator[tuple[SurveyFiles, ...]]:
    """Give the survey areas of an export, by content and not by name; unpacked files go when the block ends.

    Parameters
    ----------
    path
        The export's folder or a folder above it, one of its files, or a zip archive of any of these.
    log
        Where what was left aside is said.

    Raises
    ------
    InputRefused
        When there is no soil survey, or an archive is not safe to unpack.
    """
    with ExitStack() as stack:
        check_path(path, log)
        if path.is_dir():
            roots = [_base(path)]
        elif path.suffix.lower() in (".shp", ".txt", ".dbf", ".shx", ".prj"):
            roots = [_base(path.parent)]
        else:
            inspect_file(path, log.kind, ("zip archive",))
            roots = [stack.enter_context(open_archive(path, log.kind, nested="skip"))]
        files = files_below(roots[0], log)
        if not any(_POLYGONS.match(file.name) for file in files):
            for archive in sorted(file for file in files if file.suffix.lower() == ".zip"):
                inspect_file(archive, log.kind, ("zip archive",))
                unpacked = stack.enter_context(open_archive(archive, log.kind, nested="skip"))
                files += files_below(unpacked, log)
        yield _areas(files, log)


def _areas(files: list[Path], log: IssueLog) -> tuple[SurveyFiles, ...]:
    polygons: dict[Path, list[Path]] = defaultdict(list)
    tables: dict[Path, dict[str, Path]] = defaultdict(dict)
    for file in files:
        base = _base(file.parent)
        if _POLYGONS.match(file.name):
            polygons[base].append(file)
        elif file.suffix.lower() == ".txt":
            # The folder of polygons has a version.txt of its own.
            tables[base].setdefault(file.stem.lower(), file)
    areas = []
    for base in sorted(polygons):
        if "mapunit" in tables[base]:
            areas.append(SurveyFiles(_name(polygons[base]), tuple(polygons[base]), tables[base]))
        else:
            expected = "its tables beside it (tabular/mapunit.txt)"
            action = "The polygons were left out. Put the folders spatial and tabular side by side."
            name = polygons[base][0].name
            log.note(Issue("error", name, name, "", "no tables", expected, action))
    if not areas:
        refuse_file(
            log,
            "no soil survey",
            "spatial/soilmu_a_….shp and tabular/mapunit.txt",
            "Give the export's folder or its zip archive as it was downloaded.",
        )
    return tuple(areas)


def _name(polygons: list[Path]) -> str:
    return "+".join(file.stem[len("soilmu_a_") :].upper() for file in polygons)


def _base(folder: Path) -> Path:
    return folder.parent if folder.name.lower() in _PARTS else folder
