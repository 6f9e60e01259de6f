"""The board's settings: one attribute for each declared row, read from bytes that prove themselves.

Units are in the names, as declared; angles of the site are micro-degrees. A file is one line
`sunhob-settings <fingerprint> <crc>` (8 hex digits each), then one JSON list: [values, heat curve].
The CRC-32 covers the fingerprint and all that follows the first line. The curve is permille of full
heat at lags 0, 0.25, 0.5 ... deg, never rising.
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
    return "%08x" % (crc32(table.table_text().encode()) & 0xFFFFFFFF)


def pack(values, curve):
    """The bytes of a settings file, from board values in declared order and permille of heat."""
    body = json.dumps([list(values), list(curve)]).encode()
    mark = fingerprint().encode()
    return MAGIC + b" " + mark + b" " + (b"%08x" % (crc32(mark + body) & 0xFFFFFFFF)) + b"\n" + body


def default_curve():
    """Heat curve of the invented cooker, permille at 0.25 deg steps, as the host makes it."""
    flat = (1000,) * 11
    fall = (
        999, 999, 997, 993, 987, 978, 966, 950, 932, 912, 890, 867, 843, 819, 794, 768, 742, 715, 688, 660,
        631, 601, 570, 537, 503, 467, 431, 394, 357, 321, 285, 250, 216, 183, 151, 120, 92, 66, 44, 27, 15,
        7, 3, 1,
    )
    return flat + fall + (0,) * (table.CURVE_POINTS - len(flat) - len(fall))


class Settings:
    """What a cooker is; read only after it is made."""

    def __init__(self, values, curve):
        for row, value in zip(table.board_rows(), values):
            setattr(self, table.board_name(row[0], row[1]), value)
            if row[1] == "angle":  # in degrees too, for what needs no micro-degrees
                setattr(self, row[0].replace(".", "_"), value / 1_000_000)
        self.heat_curve = tuple(curve)
        self.site_pressure_pa = pressure_pa(self.site_altitude_m)


def pressure_pa(altitude_m):
    """Pressure of the standard atmosphere at an altitude in m. [Pa]
    ISO 2533 troposphere: 101325 Pa, 288.15 K, 6.5 K/km, exponent 5.25588 (from memory)."""
    return 101325.0 * (1.0 - 2.25577e-5 * altitude_m) ** 5.25588


def defaults():
    """Settings of the invented cooker."""
    return Settings([table.board_default(r) for r in table.board_rows()], default_curve())


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
        values, curve = json.loads(body)
    except (ValueError, TypeError):
        raise SettingsError("corrupt", "the settings file is not what it says")
    _judge(values, curve)
    return Settings(values, curve)


def _judge(values, curve):
    rows = table.board_rows()
    if not isinstance(values, list) or not isinstance(curve, list):
        raise SettingsError("corrupt", "the settings file is not two lists")
    if len(values) != len(rows):
        raise SettingsError("corrupt", "%d settings, not %d" % (len(values), len(rows)))
    for row, value in zip(rows, values):
        if not _fits(row, value):
            raise SettingsError("corrupt", "%s is %s" % (row[0], value))
    last = 1000
    for permille in curve:
        if not isinstance(permille, int) or permille < 0 or permille > last:
            raise SettingsError("corrupt", "the heat curve rises or leaves 0..1000")
        last = permille
    if len(curve) != table.CURVE_POINTS:
        raise SettingsError("corrupt", "the heat curve has %d points" % len(curve))


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
