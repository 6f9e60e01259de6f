"""One line of the link: JSON text, blank, '#', four upper-case hex digits of CRC-16, line feed.

Units: lengths in bytes, control byte and line end not counted unless said.
CRC-16/CCITT-FALSE (polynomial 0x1021, start 0xFFFF, not reflected), taken over the JSON text alone.
Every change that lies within 16 neighbouring bits is refused for certain, any other with 65535 in 65536.
"""

import json

MAX_IN = 512
MAX_OUT = 2048
_TAIL = 6  # b" #ABCD"
_HEX = b"0123456789ABCDEF"

_STEP = (
    0x0000, 0x1021, 0x2042, 0x3063, 0x4084, 0x50A5, 0x60C6, 0x70E7,
    0x8108, 0x9129, 0xA14A, 0xB16B, 0xC18C, 0xD1AD, 0xE1CE, 0xF1EF,
)


def crc16(data, crc=0xFFFF):
    """CRC-16/CCITT-FALSE of the bytes, four bits at a time. Returns 0..65535. Allocates nothing."""
    step = _STEP
    for byte in data:
        crc = ((crc << 4) & 0xFFFF) ^ step[(crc >> 12) ^ (byte >> 4)]
        crc = ((crc << 4) & 0xFFFF) ^ step[(crc >> 12) ^ (byte & 15)]
    return crc


def encode(body):
    """The whole line, line feed included, for a JSON text given as bytes.

    Bytes that are not printable ASCII become '?': a line must stay one line whatever a text holds.
    """
    for byte in body:
        if byte < 32 or byte > 126:
            body = bytes([b if 32 <= b <= 126 else 63 for b in body])
            break
    return body + (" #%04X\n" % crc16(body)).encode()


def decode(line):
    """The JSON text as bytes, or None for anything that is not a whole and true line.

    line: bytes without its line feed; one carriage return at the end is let pass.
    """
    if line[-1:] == b"\r":
        line = line[:-1]
    cut = len(line) - _TAIL
    if cut < 1 or line[cut:cut + 2] != b" #":
        return None
    told = 0
    for digit in line[cut + 2:]:
        place = _HEX.find(bytes((digit,)))
        if place < 0:
            return None
        told = told << 4 | place
    body = line[:cut]
    for byte in body:
        if byte < 32 or byte > 126:
            return None
    return body if crc16(body) == told else None


def pack(message):
    """The whole line for a message given as a dict."""
    return encode(json.dumps(message).encode())


def notification(method, params):
    """The whole line that tells the host something it need not answer."""
    return pack({"jsonrpc": "2.0", "method": method, "params": params})
