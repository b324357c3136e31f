"""QR codes as an independent reader sees them (zxing-cpp, a port of the ZXing library)."""

import re

import numpy as np
import pytest
import zxingcpp

from handslide.edges.typesetting.qrcode import QUIET, qr_code
from handslide.faces.web import links


def pixels(code, px=4):
    """The picture that an SVG reader makes of a code: dark modules on white."""
    square = np.full((code.size, code.size), 255, dtype=np.uint8)
    drawn = re.findall(r"M(\d+) (\d+)h(\d+)v1h-(\d+)z", code.path)
    assert "".join(f"M{x} {y}h{w}v1h-{back}z" for x, y, w, back in drawn) == code.path
    for x, y, width, back in drawn:
        assert width == back
        square[int(y), int(x) : int(x) + int(width)] = 0
    return np.kron(square, np.ones((px, px), dtype=np.uint8))


@pytest.mark.parametrize(
    "text",
    [
        "x",
        f"https://192.168.1.20:8481/#{links._new_code()}",
        f"http://[fd12:3456:789a:1::20]:8481/#{links._new_code()}",
        "https://studio.example.org:8481/#" + "a" * 200,
    ],
    ids=["letter", "network", "ipv6", "long"],
)
def test_another_reader_finds_the_text(text):
    (found,) = zxingcpp.read_barcodes(pixels(qr_code(text)))
    assert found.format == zxingcpp.BarcodeFormat.QRCode
    assert found.text == text


def test_it_still_reads_where_a_thumb_was():
    code = qr_code(f"https://192.168.1.20:8481/#{links._new_code()}")
    picture = pixels(code)
    side = picture.shape[0]
    # A twentieth of the width, squared, in the midst: a quarter of a percent of the code.
    middle = slice(int(0.45 * side), int(0.55 * side))
    picture[middle, middle] = 255
    (found,) = zxingcpp.read_barcodes(picture)
    assert "192.168.1.20" in found.text


def test_its_quiet_zone_is_that_of_the_standard():
    """ISO/IEC 18004: four modules on each side."""
    assert QUIET == 4
    picture = pixels(qr_code("x"), px=1)
    assert picture.shape == (29, 29)  # version 1 has 21 modules
    inside = picture[4:-4, 4:-4]
    assert (picture == 0).sum() == (inside == 0).sum() > 0
