"""One line of the link: JSON text, blank, '#', eight upper-case hex digits of CRC-32, line feed.

Units: lengths in bytes, control byte and line end not counted unless said.
CRC-32/ISO-HDLC (of IEEE 802.3: polynomial 0x04C11DB7, reflected), taken over the JSON text alone: every
change that lies within 32 neighbouring bits is refused for certain. Every interpreter has it built in;
reckoned byte by byte, the sums of a few lines were the longest part of the longest ticks.
"""

import json
from binascii import crc32

MAX_IN = 512
MAX_OUT = 2048
_TAIL = 10  # b" #ABCDEF01"


def _end(body):
    return (" #%08X" % (crc32(body) & 0xFFFFFFFF)).encode()


def _plain(body):
    return min(body) >= 32 and max(body) <= 126


def encode(body):
    """The whole line, line feed included, for a JSON text given as bytes.

    Bytes that are not printable ASCII become '?': a line must stay one line whatever a text holds.
    """
    if body and not _plain(body):
        body = bytes([b if 32 <= b <= 126 else 63 for b in body])
    return body + _end(body) + b"\n"


def decode(line):
    """The JSON text as bytes, or None for anything that is not a whole and true line.

    line: bytes without its line feed; one carriage return at the end is let pass.
    """
    if line[-1:] == b"\r":
        line = line[:-1]
    body = line[:-_TAIL]
    return body if body and line[-_TAIL:] == _end(body) and _plain(body) else None


def pack(message):
    """The whole line for a message given as a dict."""
    return encode(json.dumps(message).encode())


def notification(method, params):
    """The whole line that tells the host something it need not answer."""
    return pack({"jsonrpc": "2.0", "method": method, "params": params})
