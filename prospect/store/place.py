"""Where a folder lies: on this machine's own disk, on the network, or in the care of a program that copies it."""

from __future__ import annotations

import ctypes
import os
import re
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

_NETWORK = frozenset(
    {
        *("nfs", "nfs4", "cifs", "smb2", "smb3", "smbfs", "ncpfs", "afs", "afpfs", "webdav", "davfs", "ceph"),
        *("glusterfs", "lustre", "beegfs", "gpfs", "ocfs2", "gfs2", "vboxsf", "vmhgfs", "prl_fs", "macfuse"),
    }
)
"""Kinds of file system that other machines take part in, as mount tables name them (common practice, no source)."""
_OVER_FUSE = ("sshfs", "rclone", "davfs", "gvfsd", "gcsfuse", "s3fs", "smb", "nfs", "vmhgfs", "drive", "box")
_MARKS = (
    re.compile(
        r"\.(dropbox|dropbox\.cache|stfolder|stversions|owncloudsync\.log|nextcloudsync\.log|seafile-data)"
    ),
    re.compile(r"\.(_?sync_[0-9a-f]+\.db|sync|syncthing\..*|tmp\.drivedownload|tmp\.driveupload)"),
)
"""Files and folders that programs which copy a folder leave at its top (common practice, no source)."""
_NAMES = re.compile(
    r"onedrive( - .+)?|dropbox( \(.+\))?|googledrive-.+|google drive|com~apple~clouddocs|mobile documents|nextcloud|"
    r"owncloud|seafile|syncthing|pcloud( ?drive)?",
    re.IGNORECASE,
)
"""Names that such folders go by where they leave no mark (common practice, no source)."""
_DRIVE_REMOTE = 4  # GetDriveTypeW, Windows API
_FROM_ROOT = 3


@dataclass(frozen=True, slots=True)
class Place:
    """What sort of place a folder lies in, and by what that is known."""

    sort: Literal["own disk", "network", "copied"]
    known_by: str = ""

    @property
    def is_own_disk(self) -> bool:
        """Whether locks hold here and nobody copies files while they change."""
        return self.sort == "own disk"

    def sentence(self) -> str:
        """Return what the place means for records; empty on a machine's own disk."""
        if self.sort == "network":
            return f"The folder is on the network ({self.known_by}), where locks cannot be trusted."
        if self.sort == "copied":
            return f"Another program copies this folder elsewhere ({self.known_by}), also in the middle of a save."
        return ""


def place_of(folder: Path) -> Place:
    """Return what sort of place a folder lies in.

    The folder need not exist; a system whose mount table cannot be read counts as the machine's own disk.
    """
    folder = _existing_part(folder)
    kind = _file_system(folder)
    if kind:
        return Place("network", kind)
    for above in (folder, *folder.parents):
        # Names such as `.sync` directly under the root belong to no user's folder.
        if len(above.parts) < _FROM_ROOT:
            break
        if _NAMES.fullmatch(above.name):
            return Place("copied", f"its name is {above.name}")
        mark = _mark_in(above)
        if mark:
            return Place("copied", f"{mark} lies in {above.name}")
    return Place("own disk")


def _existing_part(folder: Path) -> Path:
    folder = Path(os.path.realpath(folder))
    while not folder.exists() and folder != folder.parent:
        folder = folder.parent
    return folder


def _mark_in(folder: Path) -> str:
    try:
        with os.scandir(folder) as entries:
            hidden = sorted(
                entry.name for entry in entries if entry.name.startswith(".") and not _is_home_of(entry)
            )
    except OSError:
        return ""
    return next((name for name in hidden if any(mark.fullmatch(name.lower()) for mark in _MARKS)), "")


def _is_home_of(entry: os.DirEntry[str]) -> bool:
    """Whether an entry holds such a program's own settings, which lie in people's home folders."""
    return entry.name == ".dropbox" and entry.is_dir()


def _file_system(folder: Path) -> str:
    """Return the kind of a network's file system; empty for any other."""
    if os.name == "nt":
        return _windows_share(folder)
    table = _mounts_of_linux() if sys.platform.startswith("linux") else _mounts_of_others()
    kind = _kind_at(folder, table)
    fuse = kind.removeprefix("fuse.") if kind.startswith("fuse.") else ""
    if kind in _NETWORK or any(word in fuse.lower() for word in _OVER_FUSE):
        return kind
    return ""


def _kind_at(folder: Path, table: list[tuple[Path, str]]) -> str:
    """Return the kind of the innermost mount; of two at one place the later one lies on top."""
    best, found = -1, ""
    for point, kind in table:
        if folder.is_relative_to(point) and len(point.parts) >= best:
            best, found = len(point.parts), kind
    return found


def _mounts_of_linux() -> list[tuple[Path, str]]:
    """Read the mount table (proc(5), /proc/pid/mountinfo: the fifth field, and the first after the hyphen)."""
    try:
        lines = (
            Path("/proc/self/mountinfo").read_text(encoding="utf-8", errors="surrogateescape").splitlines()
        )
    except OSError:
        return []
    table = []
    for line in lines:
        before, _, after = line.partition(" - ")
        fields, kind = before.split(" "), after.split(" ")[0]
        if len(fields) > 4 and kind:
            point = re.sub(r"\\([0-7]{3})", lambda code: chr(int(code[1], 8)), fields[4])
            table.append((Path(point), kind))
    return table


def _mounts_of_others() -> list[tuple[Path, str]]:
    """Ask the system's `mount`: `what on /where (kind, …)`."""
    try:
        told = subprocess.run(["/sbin/mount"], capture_output=True, text=True, timeout=5, check=False).stdout
    except (OSError, subprocess.SubprocessError):
        return []
    lines = (re.fullmatch(r".+ on (/.*) \(([^,)]+).*\)", line) for line in told.splitlines())
    return [(Path(line[1]), line[2]) for line in lines if line]


def _windows_share(folder: Path) -> str:
    root = folder.anchor
    if root.startswith("\\\\"):
        return "a share"
    drive = getattr(ctypes, "windll", None)
    remote = drive is not None and drive.kernel32.GetDriveTypeW(root) == _DRIVE_REMOTE
    return "a drive of another machine" if remote else ""
