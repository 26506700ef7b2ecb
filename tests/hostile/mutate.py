"""Changes good files at random: bytes anywhere, tokens of text, members of archives and parts of shapefiles."""

from __future__ import annotations

import io
import re
import zipfile

import numpy as np

TOKENS: dict[str, bytes] = {
    "xml": rb'<[^>]*>|"[^"]*"|[^<>"\s]+|\s+',
    "json": rb'"(?:[^"\\]|\\.)*"|[\[\]{}:,]|[^\[\]{}:,"\s]+|\s+',
    "csv": rb'"(?:[^"]|"")*"|[,;\t|\r\n]|[^,;\t|\r\n"]+',
    "toml": rb'"(?:[^"\\]|\\.)*"|[\[\]{}=,.\n]|[^\[\]{}=,.\n"]+',
}
LANGUAGE = {
    "geojson": "json",
    "gpx": "xml",
    "kml": "xml",
    "kmz": "xml",
    "csv": "csv",
    "legend.csv": "csv",
    "soil.zip": "csv",
    "toml": "toml",
}
STRANGE = (
    b"",
    b"0",
    b"-1",
    b"1e400",
    b"NaN",
    b"inf",
    b"null",
    b"[]",
    b"{}",
    b'""',
    b'"',
    b"\x00",
    b"\xff",
    b"\xef\xbb\xbf",
    b"9" * 400,
    b"-" * 50,
    b"A" * 5000,
    "١٢".encode(),
    b"<a>",
    b"&a;",
    b"]]>",
    b"=1+1",
    b"../..",
    b"%s%n",
    b"${x}",
)


def mutated(data: bytes, form: str, random: np.random.Generator) -> bytes:
    """Return a changed copy of a file; of an archive, now and then a member is changed and all packed again."""
    if form.endswith(("zip", "kmz")) and random.random() < 0.7:
        return _repacked(data, form, random)
    language = LANGUAGE.get(form)
    if language and random.random() < 0.6:
        return tokens(data, TOKENS[language], random)
    return scattered(data, random)


def scattered(data: bytes, random: np.random.Generator) -> bytes:
    """Return the data with bytes changed, flipped, taken out, put in, doubled or set to a number at an edge."""
    changed = bytearray(data)
    # Heads and lists of parts are where most depends on few bytes.
    reach = len(changed) if random.random() < 0.6 else min(len(changed), 1024)
    for _ in range(int(random.integers(1, 12))):
        if not changed:
            return b"\0"
        place = int(random.integers(0, max(1, min(reach, len(changed)))))
        choice = int(random.integers(0, 7))
        if choice == 0:
            changed[place] = int(random.integers(0, 256))
        elif choice == 1:
            changed[place] ^= 1 << int(random.integers(0, 8))
        elif choice == 2:
            del changed[place : place + int(random.integers(1, 40))]
        elif choice == 3:
            changed[place:place] = random.bytes(int(random.integers(1, 20)))
        elif choice == 4:
            piece = changed[place : place + int(random.integers(1, 200))]
            changed[place:place] = piece
        elif choice == 5:
            width = int(random.choice([1, 2, 4, 8]))
            edge = bytes([int(random.choice([0, 0x7F, 0x80, 0xFF]))]) + bytes(
                [int(random.choice([0, 0xFF]))] * (width - 1)
            )
            changed[place : place + width] = edge
        else:
            del changed[max(1, int(len(changed) * random.random())) :]
    return bytes(changed)


def tokens(data: bytes, pattern: bytes, random: np.random.Generator) -> bytes:
    """Return text with words and signs swapped, doubled, taken out or put in others' places."""
    pieces = re.findall(pattern, data, re.DOTALL)
    for _ in range(int(random.integers(1, 8))):
        if len(pieces) < 2:
            break
        one, other = (int(at) for at in random.integers(0, len(pieces), 2))
        choice = int(random.integers(0, 6))
        if choice == 0:
            pieces[one], pieces[other] = pieces[other], pieces[one]
        elif choice == 1:
            pieces.insert(one, pieces[other])
        elif choice == 2:
            del pieces[one]
        elif choice == 3:
            pieces[one] = STRANGE[int(random.integers(0, len(STRANGE)))]
        elif choice == 4:
            low, high = sorted((one, other))
            pieces[low:low] = pieces[low : min(high, low + 60)]
        else:
            low, high = sorted((one, other))
            del pieces[low : min(high, low + 60)]
    return b"".join(pieces)


def _repacked(data: bytes, form: str, random: np.random.Generator) -> bytes:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    names = sorted(members)
    name = names[int(random.integers(0, len(names)))]
    choice = random.random()
    if choice < 0.1:
        del members[name]
    elif choice < 0.8:
        inner = LANGUAGE.get(form)
        text = inner and name.endswith((".txt", ".kml"))
        content = members[name]
        members[name] = (
            tokens(content, TOKENS[inner], random) if inner and text else scattered(content, random)
        )
    else:
        other = names[int(random.integers(0, len(names)))]
        members[name], members[other] = members[other], members[name]
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for member, content in members.items():
            archive.writestr(member, content)
    return stream.getvalue()
