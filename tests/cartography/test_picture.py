"""Pictures against the PNG standard (ISO/IEC 15948, W3C Recommendation)."""

import io
import struct
import zlib

import numpy as np
import pytest
from PIL import Image

from prospect.cartography import hatch_mask, render_classes, render_hatch, render_hillshade, render_png
from prospect.palette import ramp


def chunks(picture):
    """Chunk type to content, read by the layout of the standard, §5.3, with every checksum tested."""
    assert picture[:8] == b"\x89PNG\r\n\x1a\n"
    place, found = 8, {}
    while place < len(picture):
        (length,) = struct.unpack(">I", picture[place : place + 4])
        kind, body = picture[place + 4 : place + 8], picture[place + 8 : place + 8 + length]
        (crc,) = struct.unpack(">I", picture[place + 8 + length : place + 12 + length])
        assert zlib.crc32(kind + body) == crc
        found[kind.decode()] = found.get(kind.decode(), b"") + body
        place += 12 + length
    return found


def pixels(picture):
    return np.asarray(Image.open(io.BytesIO(picture)).convert("RGBA"))


def test_the_picture_is_indexed_with_eight_bits():
    # Colour type 3 (indexed), bit depth 8; PLTE and tRNS present; nothing that names a time, place or program.
    found = chunks(render_png(np.linspace(0, 1, 12, dtype=np.float32).reshape(3, 4)))
    width, height, depth, colour_type, *_ = struct.unpack(">IIBBBBB", found["IHDR"])
    assert (width, height, depth, colour_type) == (4, 3, 8, 3)
    assert set(found) == {"IHDR", "PLTE", "tRNS", "IDAT", "IEND"}


def test_no_data_is_clear_and_data_is_not():
    values = np.array([[np.nan, 0.0], [0.5, 1.0]], dtype=np.float32)
    shown = pixels(render_png(values))
    assert shown[0, 0, 3] == 0
    assert shown[0, 1].tolist() == [*ramp().rgb(0.0), 255]
    assert shown[1, 1].tolist() == [*ramp().rgb(1.0), 255]
    assert np.abs(shown[1, 0, :3].astype(int) - ramp().rgb(0.5)).max() <= 2


def test_zero_is_not_taken_for_missing_and_the_ends_hold():
    shown = pixels(render_png(np.array([[0.0, -5.0, 9.0, np.inf]], dtype=np.float32)))
    assert shown[0, :3, 3].tolist() == [255, 255, 255]
    assert shown[0, 1].tolist() == shown[0, 0].tolist()
    assert shown[0, 3, 3] == 0
    with pytest.raises(ValueError, match="Invalid range"):
        render_png(np.zeros((2, 2)), low=1.0, high=1.0)


def test_other_ranges_and_opacity():
    shown = pixels(render_png(np.array([[10.0, 20.0]]), low=10, high=20, opacity=0.5))
    assert shown[0, :, 3].tolist() == [128, 128]
    assert shown[0, 1, :3].tolist() == list(ramp().rgb(1.0))


def test_relief_is_darkness_only_where_the_light_fails():
    shown = pixels(render_hillshade(np.array([[255.0, 0.0, np.nan]])))
    assert shown[0, 0, 3] == 0
    assert shown[0, 1, 3] > 100
    assert shown[0, 2, 3] == 0


def test_classes_take_their_colours():
    shown = pixels(render_classes(np.array([[-1, 0, 1]], dtype=np.int32), ["#102030", "#FFFFFF"]))
    assert shown[0].tolist()[0][3] == 0
    assert shown[0].tolist()[1:] == [[0x10, 0x20, 0x30, 255], [255, 255, 255, 255]]
    with pytest.raises(ValueError, match="Class 2 has no colour"):
        render_classes(np.array([[2]], dtype=np.int32), ["#102030", "#FFFFFF"])


@pytest.mark.parametrize(("completeness", "strokes"), [(1.0, 0), (0.6, 1), (0.4, 2), (0.1, 3), (np.nan, 0)])
def test_less_known_means_more_strokes(completeness, strokes):
    mask = hatch_mask(np.full((64, 64), completeness, dtype=np.float32))
    assert mask.sum() == strokes * 64 * 64 / 8


def test_strokes_run_on_from_tile_to_tile():
    whole = hatch_mask(np.full((64, 64), 0.1, dtype=np.float32))
    part = hatch_mask(np.full((32, 32), 0.1, dtype=np.float32), row0=32, col0=32)
    assert (whole[32:, 32:] == part).all()
    assert pixels(render_hatch(np.full((8, 8), 1.0)))[..., 3].max() == 0
