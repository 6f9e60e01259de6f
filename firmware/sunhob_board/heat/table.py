"""Reader of the heat table: heat and stray light over lag, elevation and direction.

Units: angles in udeg (integer micro-degrees) on the outside, 0.001 deg within; share in 1/50000 of full heat
(UNIT), stray in 1/250 of the light. lag: between dish axis and sun; elevation: of the dish axis; direction:
of the sun as seen from the axis, 0 up, 90 deg to the right looking out along it.

File, little endian: magic "HEAT", format u16, counts of lags, elevations, directions and a spare 0 as u8,
fingerprint of the optics settings u32, full heat at 1000 W/m2 in 0.1 W u32, CRC-32 of all the rest u32; then
the lags and the elevations in 0.01 deg, u16 each (directions are even steps of a turn, from 0); then share
u16 [lag, elevation, direction]; then stray u8 in the same order. Full heat is the greatest share at lag 0.
All products stay below 2**30.
"""

import array
import binascii
import struct

MAGIC = b"HEAT"
FORMAT = 1
HEADER = "<4sHBBBBIII"
HEADER_BYTES = 22
CRC_AT = 18
UNIT = 50000
STRAY_UNIT = 250
MOST_CELLS = 6000
_TURN = 360000
_ONE = 4096  # weights of interpolation


CODES = ("missing", "short", "corrupt", "format", "other")


class HeatTableError(Exception):
    """args: one of CODES, text for people."""


def table_crc(data):
    """CRC-32 of the header before the CRC and of all after it."""
    crc = binascii.crc32(bytes(data[:CRC_AT]))
    return binascii.crc32(bytes(data[HEADER_BYTES:]), crc) & 0xFFFFFFFF


def _rises(grid):
    for i in range(1, len(grid)):
        if grid[i] <= grid[i - 1]:
            return False
    return True


def _cell(grid, x):
    """Index of the step of a rising grid that holds x, times _ONE, plus the weight of its upper end."""
    if x <= grid[0]:
        return 0
    low, high = 0, len(grid) - 1
    if x >= grid[high]:
        return (high - 1) * _ONE + _ONE - 1
    while high - low > 1:
        mid = (low + high) >> 1
        if grid[mid] <= x:
            low = mid
        else:
            high = mid
    return low * _ONE + (x - grid[low]) * _ONE // (grid[high] - grid[low])


class HeatTable:
    """lags_mdeg: the lags of the grid; full_dw: full heat at 1000 W/m2 [0.1 W]."""

    def __init__(self, data, fingerprint):
        """data: the file; fingerprint: of the optics settings on this board."""
        if not data:
            raise HeatTableError("missing", "no heat table on the board; write one with `sunhob table heat`")
        if len(data) < HEADER_BYTES:
            raise HeatTableError("short", "heat table: %d bytes, less than its header" % len(data))
        magic, form, n_lag, n_el, n_dir, spare, mark, full, crc = struct.unpack_from(HEADER, data, 0)
        if magic != MAGIC or spare:
            raise HeatTableError("corrupt", "heat table: the file does not begin as one")
        if form != FORMAT:
            raise HeatTableError("format", "heat table of format %d, this firmware reads %d" % (form, FORMAT))
        cells = n_lag * n_el * n_dir
        grids = HEADER_BYTES + 2 * (n_lag + n_el)
        want = grids + 3 * cells
        if len(data) < want:
            raise HeatTableError("short", "heat table: %d bytes of %d" % (len(data), want))
        if len(data) > want or table_crc(data) != crc:
            raise HeatTableError("corrupt", "heat table: its check sum does not match; build it again")
        steps = array.array("H", bytes(data[HEADER_BYTES:grids]))
        self.lags_mdeg = array.array("i", [10 * steps[i] for i in range(n_lag)])
        self._elevations = array.array("i", [10 * steps[n_lag + i] for i in range(n_el)])
        good = n_lag > 1 and n_el > 1 and n_dir > 2 and _TURN % n_dir == 0 and full > 0 and steps[0] == 0
        good = good and cells <= MOST_CELLS and _rises(self.lags_mdeg) and _rises(self._elevations)
        if not good:
            raise HeatTableError("corrupt", "heat table: its grid is not one this firmware reads")
        if mark != fingerprint:
            raise HeatTableError("other", "heat table made for optics %08x, the settings say %08x; "
                                 "build and install it again" % (mark, fingerprint))
        self.full_dw = full
        self._n_el = n_el
        self._n_dir = n_dir
        self._step = _TURN // n_dir
        self._share = array.array("H", bytes(data[grids : grids + 2 * cells]))
        self._stray = array.array("B", bytes(data[grids + 2 * cells :]))

    def buffers(self):
        """What it holds in memory, for the self-check."""
        return self.lags_mdeg, self._elevations, self._share, self._stray

    def share(self, lag_udeg, elevation_udeg, direction_udeg):
        """Heat on the pot in 1/50000 of full heat."""
        return self._at(self._share, lag_udeg, elevation_udeg, direction_udeg)

    def stray(self, lag_udeg, elevation_udeg, direction_udeg):
        """Light over the lid or beside the guarded volume and plate, in 1/250 of all."""
        return self._at(self._stray, lag_udeg, elevation_udeg, direction_udeg)

    def share_on(self, i, elevation_udeg, direction_udeg):
        """As share(), at lag i of the grid."""
        return self._plane(self._share, i, elevation_udeg, direction_udeg)

    def _at(self, values, lag_udeg, elevation_udeg, direction_udeg):
        """Trilinear in lag, elevation, direction; held at the ends of lag and elevation."""
        cell = _cell(self.lags_mdeg, lag_udeg // 1000)
        i, wi = cell // _ONE, cell % _ONE
        low = self._plane(values, i, elevation_udeg, direction_udeg)
        return low + (self._plane(values, i + 1, elevation_udeg, direction_udeg) - low) * wi // _ONE

    def _plane(self, values, i, elevation_udeg, direction_udeg):
        """Bilinear over elevation and direction at lag i of the grid."""
        cell = _cell(self._elevations, elevation_udeg // 1000)
        wj = cell % _ONE
        turn = direction_udeg // 1000 % _TURN
        step = self._n_dir
        k = turn // self._step
        wk = (turn - k * self._step) * _ONE // self._step
        row = (i * self._n_el + cell // _ONE) * step
        a, b = row + k, row + (k + 1) % step
        one = values[a] + (values[b] - values[a]) * wk // _ONE
        a += step
        b += step
        two = values[a] + (values[b] - values[a]) * wk // _ONE
        return one + (two - one) * wj // _ONE
