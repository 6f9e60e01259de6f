"""Reading a board image. The blocks are packed here as the README of github.com/microsoft/uf2 has them."""

import struct
import zlib

import pytest
from rp2040py.device.load_flash import decode_block

from .uf2 import BadImage, Part, read_image, read_uf2

RP2040, RP2350 = 0xE48BFF56, 0xE48BFF59


def block(number, count, address, data, flags=0x2000, family=RP2040, size=None):
    head = struct.pack("<8I", 0x0A324655, 0x9E5D5157, flags, address, len(data) if size is None else size,
                       number, count, family)
    return head + data.ljust(476, b"\0") + struct.pack("<I", 0x0AB16F30)


@pytest.fixture
def put(tmp_path):
    def write(*blocks):
        path = tmp_path / "board.uf2"
        path.write_bytes(b"".join(blocks))
        return path
    return write


def test_parts_come_in_the_order_of_their_addresses_as_another_reader_finds_them(put):
    blocks = [block(1, 2, 0x10000100, b"second" * 40), block(0, 2, 0x10000000, bytes(range(256)))]
    assert read_uf2(put(*blocks)) == [Part(0, bytes(range(256))), Part(256, b"second" * 40)]
    for one, part in zip(reversed(blocks), read_uf2(put(*blocks)), strict=True):
        other = decode_block(one)
        assert (other.flash_address - 0x10000000, other.payload) == (part.offset, part.data)


def test_what_is_for_another_chip_or_not_for_the_flash_is_left_out(put):
    path = put(block(0, 1, 0x10000000, b"mine"), block(0, 1, 0x10FFFF00, b"other", family=RP2350),
               block(0, 1, 0x20000000, b"no flash", flags=0x2001))
    assert read_uf2(path) == [Part(0, b"mine")]


@pytest.mark.parametrize(("blocks", "words"), [
    ([b""], "0 bytes are no whole number"),
    ([block(0, 1, 0x10000000, b"x")[:-1]], "511 bytes are no whole number"),
    ([b"\0" * 512], "block 0: is none of UF2"),
    ([block(0, 1, 0x10000000, b"x", family=RP2350)], "holds nothing for an RP2040; take the image"),
    ([block(0, 2, 0x10000000, b"x")], "1 blocks of 2; fetch it again"),
    ([block(0, 1, 0x20000000, b"x")], "address 0x20000000 is outside the flash"),
    ([block(0, 1, 0x10000000, b"x", size=477)], "477 bytes, at most 476"),
])
def test_an_image_that_will_not_do_is_told_in_one_line(put, blocks, words):
    with pytest.raises(BadImage, match=words) as caught:
        read_uf2(put(*blocks))
    assert "\n" not in str(caught.value)


def turned(number, bits):
    return int(f"{number:0{bits}b}"[::-1], 2)


def crc_mpeg(data):
    """CRC-32/MPEG-2 by zlib, bits turned over and back."""
    return turned(~zlib.crc32(bytes(turned(byte, 8) for byte in data)) & 0xFFFFFFFF, 32)


def test_a_plain_image_counts_where_the_boot_rom_would_run_it(tmp_path):
    assert crc_mpeg(b"123456789") == 0x0376E6E7  # CRC RevEng catalogue
    path, starter = tmp_path / "firmware.bin", bytes(range(252))
    path.write_bytes(starter + struct.pack("<I", crc_mpeg(starter)) + b"program")
    assert read_image(path) == [Part(0, path.read_bytes())]
    path.write_bytes(starter + struct.pack("<I", crc_mpeg(starter) ^ 1) + b"program")
    with pytest.raises(BadImage, match=r"take firmware\.bin of the board RPI_PICO"):
        read_image(path)
