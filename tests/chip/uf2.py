"""Reads a board image, in UF2 or plain (.bin, the begin of the flash). Units: bytes, addresses of the chip.

Format: "USB Flashing Format (UF2)", github.com/microsoft/uf2, README: blocks of 512 bytes, eight words of 32
bits ahead (two magic numbers, flags, address, size, number, count, family), at most 476 bytes of data, a
magic number at the end. Flags 0x1: not for the main flash, 0x2000: the last word is a family. Families from
its utils/uf2families.json: RP2040 0xE48BFF56.
"""

import struct
from dataclasses import dataclass
from pathlib import Path

BLOCK = 512
FAMILY_RP2040 = 0xE48BFF56
FLASH = 0x1000_0000
FLASH_SIZE = 16 * 1024 * 1024
_STARTER = 256
_MAGIC = (0x0A324655, 0x9E5D5157, 0x0AB16F30)
_MOST = 476
_NOT_FLASH, _HAS_FAMILY = 0x1, 0x2000


class BadImage(ValueError):
    """What is wrong with an image, in one line."""


@dataclass(frozen=True)
class Part:
    """So many bytes at an address of the flash, counted from its begin."""

    offset: int
    data: bytes


def read_image(path: Path) -> list[Part]:
    """The parts of an image for an RP2040 in either form, by the file's name. BadImage says what is wrong."""
    if path.suffix != ".bin":
        return read_uf2(path)
    whole = path.read_bytes()
    if not _STARTER < len(whole) <= FLASH_SIZE or not _starts(whole[:_STARTER]):
        raise BadImage(f"{path.name}: does not begin with what starts an RP2040 from its flash; take "
                       "firmware.bin of the board RPI_PICO")
    return [Part(0, whole)]


def _starts(block: bytes) -> bool:
    """Whether the boot ROM would run this first block: its last word is a CRC-32 of the rest, high bit first,
    from all ones, nothing turned over (RP2040 data sheet, 2.8.1.3.1)."""
    told = 0xFFFFFFFF
    for byte in block[:-4]:
        told ^= byte << 24
        for _ in range(8):
            told = (told << 1 ^ 0x04C11DB7 * (told >> 31)) & 0xFFFFFFFF
    return told == int.from_bytes(block[-4:], "little")


def read_uf2(path: Path) -> list[Part]:
    """The parts of an image for an RP2040, in order of their addresses. BadImage says what is wrong."""
    whole = path.read_bytes()
    if not whole or len(whole) % BLOCK:
        raise BadImage(f"{path.name}: {len(whole)} bytes are no whole number of UF2 blocks of {BLOCK}; "
                       "fetch it again")
    parts: dict[int, bytes] = {}
    for number in range(len(whole) // BLOCK):
        part = _block(whole[number * BLOCK:(number + 1) * BLOCK], f"{path.name}: block {number}")
        if part is not None:
            parts[part.offset] = part.data
    if not parts:
        raise BadImage(f"{path.name}: holds nothing for an RP2040; take the image for the Pico")
    wanted = {_count(whole[at:at + BLOCK]) for at in range(0, len(whole), BLOCK)} - {None}
    if wanted != {len(parts)}:
        raise BadImage(f"{path.name}: {len(parts)} blocks of {max(n for n in wanted if n)}; fetch it again")
    return [Part(offset, data) for offset, data in sorted(parts.items())]


def _count(block: bytes) -> int | None:
    """How many blocks the image has by what a block for this chip says."""
    _, _, flags, _, _, _, count, family = struct.unpack_from("<8I", block)
    mine = not flags & _NOT_FLASH and not (flags & _HAS_FAMILY and family != FAMILY_RP2040)
    return count if mine else None


def _block(block: bytes, where: str) -> Part | None:
    first, second, flags, address, size, _, _, family = struct.unpack_from("<8I", block)
    if (first, second, *struct.unpack_from("<I", block, BLOCK - 4)) != _MAGIC:
        raise BadImage(f"{where}: is none of UF2; take the .uf2 file")
    if flags & _NOT_FLASH:
        return None
    if flags & _HAS_FAMILY and family != FAMILY_RP2040:
        return None  # an image may hold parts for several chips
    if size > _MOST:
        raise BadImage(f"{where}: {size} bytes, at most {_MOST}; fetch it again")
    if not FLASH <= address <= FLASH + FLASH_SIZE - size:
        raise BadImage(f"{where}: address 0x{address:08X} is outside the flash; take the image for the Pico")
    return Part(address - FLASH, block[32:32 + size])
