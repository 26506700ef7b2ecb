"""Archives that lie about names, links and sizes."""

import struct
import zipfile

import pytest

from prospect.errors import InputRefused
from prospect.guard.archive import ArchiveLimits, open_archive


def make(path, members, compression=zipfile.ZIP_DEFLATED):
    with zipfile.ZipFile(path, "w", compression) as archive:
        for name, content in members:
            archive.writestr(name, content)
    return path


def test_good_archive_is_unpacked_and_cleaned_up(tmp_path):
    path = make(
        tmp_path / "wss_SSA_ZZ001_[2026-01-01].zip", [("ZZ001/a.txt", "one"), ("ZZ001/b/c.txt", "two")]
    )
    with open_archive(path, "soil") as folder:
        assert sorted(str(p.relative_to(folder)) for p in folder.rglob("*.txt")) == [
            "ZZ001/a.txt",
            "ZZ001/b/c.txt",
        ]
        assert (folder / "ZZ001/b/c.txt").read_text() == "two"
    assert not folder.exists()


@pytest.mark.parametrize(
    "name",
    [
        "../evil.txt",
        "/etc/evil",
        "a/../../evil",
        "..\\evil",
        "C:\\evil",
        "C:evil",
        "a//b",
        "./a",
        "nul.txt",
        "a\nb",
    ],
)
def test_names_that_lead_outside(tmp_path, name):
    path = make(tmp_path / "a.zip", [("ok.txt", "x"), (name, "x")])
    before = set(tmp_path.parent.rglob("evil*"))
    with pytest.raises(InputRefused, match="names inside the archive"), open_archive(path, "geology"):
        pass
    assert set(tmp_path.parent.rglob("evil*")) == before


def test_link(tmp_path):
    info = zipfile.ZipInfo("link.shp")
    info.external_attr = 0o120777 << 16
    path = make(tmp_path / "a.zip", [(info, "/etc/passwd")])
    with pytest.raises(InputRefused, match="a link"), open_archive(path, "geology"):
        pass


def test_bomb(tmp_path):
    path = make(tmp_path / "a.zip", [("zeros.shp", b"\0" * 60_000_000)])
    with pytest.raises(InputRefused, match="times as much"), open_archive(path, "geology"):
        pass


def test_too_many_and_too_large(tmp_path):
    path = make(tmp_path / "a.zip", [(f"{i}.txt", b"x" * 100) for i in range(20)], zipfile.ZIP_STORED)
    with (
        pytest.raises(InputRefused, match="20 files"),
        open_archive(path, "x", limits=ArchiveLimits(members=10)),
    ):
        pass
    with (
        pytest.raises(InputRefused, match="MB unpacked"),
        open_archive(path, "x", limits=ArchiveLimits(total_bytes=999)),
    ):
        pass


def test_lying_size(tmp_path):
    path = make(tmp_path / "a.zip", [("a.txt", b"x" * 5000)], zipfile.ZIP_DEFLATED)
    data = bytearray(path.read_bytes())
    # central directory and local header both declare 10 bytes (PKWARE APPNOTE 4.3.7, 4.3.12)
    central = data.index(b"PK\x01\x02")
    data[central + 24 : central + 28] = struct.pack("<I", 10)
    data[22:26] = struct.pack("<I", 10)
    path.write_bytes(data)
    with pytest.raises(InputRefused), open_archive(path, "x"):
        pass


def test_nested_archive(tmp_path):
    path = make(tmp_path / "a.zip", [("ok.txt", "x"), ("soildb.zip", b"PK")])
    with pytest.raises(InputRefused, match="archive inside"), open_archive(path, "x"):
        pass
    with open_archive(path, "x", nested="skip") as folder:
        assert [p.name for p in folder.iterdir()] == ["ok.txt"]


@pytest.mark.filterwarnings("ignore:Duplicate name")
def test_twice_empty_damaged_encrypted(tmp_path):
    path = make(tmp_path / "a.zip", [("a.txt", "x"), ("A.txt", "y")])
    with pytest.raises(InputRefused, match="twice"), open_archive(path, "x"):
        pass
    with pytest.raises(InputRefused, match="empty archive"), open_archive(make(tmp_path / "b.zip", []), "x"):
        pass
    whole = make(tmp_path / "c.zip", [("a.txt", bytes(range(256)) * 500)])
    data = whole.read_bytes()
    whole.write_bytes(data[: len(data) // 2])
    with pytest.raises(InputRefused), open_archive(whole, "x"):
        pass
    broken = bytearray(data)
    broken[60] ^= 0xFF
    whole.write_bytes(broken)
    with pytest.raises(InputRefused), open_archive(whole, "x"):
        pass
    secret = bytearray(make(tmp_path / "d.zip", [("a.txt", "x")]).read_bytes())
    secret[secret.index(b"PK\x01\x02") + 8] |= 1
    (tmp_path / "d.zip").write_bytes(secret)
    with pytest.raises(InputRefused, match="password"), open_archive(tmp_path / "d.zip", "x"):
        pass
