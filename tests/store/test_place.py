"""Where a folder lies: the machine's own disk, the network, or the care of a program that copies it."""

from __future__ import annotations

from pathlib import Path

import pytest

from prospect.store import place
from prospect.store.place import place_of

MOUNTS = """\
22 1 8:1 / / rw,relatime shared:1 - ext4 /dev/sda1 rw
30 22 0:40 / /home/share rw,relatime shared:9 - nfs4 barn:/clay rw,vers=4.2
31 22 0:41 / /home/my\\040share rw - cifs //barn/clay rw
32 30 8:2 / /home/share/disk rw - xfs /dev/sdb1 rw
33 22 0:50 / /home/far rw - fuse.sshfs barn: rw
34 22 0:51 / /home/crypt rw - fuse.gocryptfs /x rw
35 22 0:52 / /media/disk rw - exfat /dev/sdc1 rw
""".splitlines()
"""Lines in the form of proc(5), /proc/pid/mountinfo."""


@pytest.mark.parametrize(
    ("folder", "kind"),
    [
        ("/home/tov/clay", ""),
        ("/home/share/clay", "nfs4"),
        ("/home/share", "nfs4"),
        ("/home/shared", ""),
        ("/home/my share/clay", "cifs"),
        ("/home/share/disk/clay", ""),
        ("/home/far/clay", "fuse.sshfs"),
        ("/home/crypt/clay", ""),
        ("/media/disk/clay", ""),
    ],
)
def test_a_file_system_of_other_machines_is_known(
    monkeypatch: pytest.MonkeyPatch, folder: str, kind: str
) -> None:
    monkeypatch.setattr(place.sys, "platform", "linux")
    monkeypatch.setattr(Path, "read_text", lambda *_, **__: "\n".join(MOUNTS))
    assert place._file_system(Path(folder)) == kind


@pytest.mark.parametrize(
    ("made", "known_by"),
    [
        ("shared/.stfolder", ".stfolder lies in shared"),
        ("shared/.dropbox", ".dropbox lies in shared"),
        ("shared/.sync_0a1b2c.db", ".sync_0a1b2c.db lies in shared"),
        ("OneDrive - Quill/x", "its name is OneDrive - Quill"),
        ("Nextcloud/x", "its name is Nextcloud"),
    ],
)
def test_a_folder_that_others_copy_is_known_by_its_marks(tmp_path: Path, made: str, known_by: str) -> None:
    mark = tmp_path / made
    mark.parent.mkdir()
    mark.touch()
    found = place_of(mark.parent / "clay" / "ground")
    assert (found.sort, found.known_by) == ("copied", known_by)
    assert known_by in found.sentence()


@pytest.mark.parametrize("made", [".dropbox/", ".stignore", ".synced", "dropbox notes/"])
def test_what_only_looks_like_a_mark_is_none(tmp_path: Path, made: str) -> None:
    mark = tmp_path / made
    mark.mkdir() if made.endswith("/") else mark.touch()
    assert place_of(tmp_path / "ground").is_own_disk


def test_a_link_is_followed_to_where_the_folder_lies(tmp_path: Path) -> None:
    (tmp_path / "shared").mkdir()
    (tmp_path / "shared" / ".stfolder").touch()
    (tmp_path / "link").symlink_to(tmp_path / "shared")
    assert place_of(tmp_path / "link" / "ground").sort == "copied"
