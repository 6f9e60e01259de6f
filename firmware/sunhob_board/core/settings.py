"""The board's settings: one attribute for each declared row, read from bytes that prove themselves.

Units are in the names, as declared; angles of the site are micro-degrees. A file is one line
`sunhob-settings <fingerprint> <crc>` (8 hex digits each), then one JSON list: [values, optics fingerprint].
The CRC-32 covers the fingerprint and all that follows the first line. The optics fingerprint is that of the
settings the heat depends on, made by the host: the board takes only a heat table that bears the same.
"""

import json

from ..declared import settings as table

try:
    from binascii import crc32
except ImportError:  # a small build without it

    def crc32(data, crc=0):
        crc ^= 0xFFFFFFFF
        for byte in data:
            crc ^= byte
            for _ in range(8):
                crc = (crc >> 1) ^ (0xEDB88320 if crc & 1 else 0)
        return crc ^ 0xFFFFFFFF


MAGIC = b"sunhob-settings"


class SettingsError(Exception):
    """args: (code, text); code is 'missing', 'corrupt' or 'other_table'."""

    @property
    def code(self):
        return self.args[0]


def fingerprint():
    """Eight hex digits that change when the declared table does."""
    return table.fingerprint(crc32)


def pack(values, optics):
    """The bytes of a settings file, from board values in declared order and the optics fingerprint."""
    body = json.dumps([list(values), optics]).encode()
    mark = fingerprint().encode()
    return MAGIC + b" " + mark + b" " + (b"%08x" % (crc32(mark + body) & 0xFFFFFFFF)) + b"\n" + body


class Settings:
    """What a cooker is; read only after it is made."""

    def __init__(self, values, optics):
        for row, names, value in zip(table.board_rows(), table.board_names(), values):
            setattr(self, names[0], value)
            if row[1] == "angle":  # in degrees too, for what needs no micro-degrees
                setattr(self, names[1], value / 1_000_000)
        self.optics_fingerprint = optics
        self.site_pressure_pa = pressure_pa(self.site_altitude_m)


def pressure_pa(altitude_m):
    """Pressure of the standard atmosphere at an altitude in m. [Pa]
    ISO 2533 troposphere: 101325 Pa, 288.15 K, 6.5 K/km, exponent 5.25588 (from memory)."""
    return 101325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588


def defaults():
    """Settings of the invented cooker; no heat table is theirs."""
    return Settings([table.board_default(r) for r in table.board_rows()], 0)


def load(data):
    """Settings from the bytes of a file; SettingsError when they do not prove themselves."""
    if not data:
        raise SettingsError("missing", "no settings on the board")
    cut = bytes(data).find(b"\n")
    head = bytes(data[:cut]).split(b" ") if cut > 0 else []
    if len(head) != 3 or head[0] != MAGIC:
        raise SettingsError("corrupt", "the settings file does not start as one")
    body = bytes(data[cut + 1 :])
    if head[2] != b"%08x" % (crc32(head[1] + body) & 0xFFFFFFFF):
        raise SettingsError("corrupt", "the settings file fails its CRC")
    if head[1] != fingerprint().encode():
        raise SettingsError("other_table", "the settings were made for other firmware: install again")
    try:
        values, optics = json.loads(body)
    except (ValueError, TypeError):
        raise SettingsError("corrupt", "the settings file is not what it says")
    _judge(values, optics)
    return Settings(values, optics)


def _judge(values, optics):
    if not isinstance(values, list) or isinstance(optics, bool) or not isinstance(optics, int):
        raise SettingsError("corrupt", "the settings file is not a list and a number")
    count = sum([1 for _row in table.board_rows()])  # made one by one on a board
    if len(values) != count:
        raise SettingsError("corrupt", "%d settings, not %d" % (len(values), count))
    for row, value in zip(table.board_rows(), values):
        if not _fits(row, value):
            raise SettingsError("corrupt", "%s is %s" % (row[0], value))


def _fits(row, value):
    kind, low, high = row[1], row[3], row[4]
    if kind == "bool":
        return isinstance(value, bool)
    if kind == "choice":
        return value in low
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return False
    if kind == "angle":
        return isinstance(value, int) and low * 1_000_000 <= value <= high * 1_000_000
    if kind == "int" and not isinstance(value, int):
        return False
    return low <= value <= high
