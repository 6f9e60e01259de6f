"""MAX31855K thermocouple converter over SPI, type K.

Units: milli-degC, tenths of a microvolt. Frame as in the data sheet (Maxim 19-5793, tables 2 to 5): 14 bits
of temperature in 0.25 K, a bit that is always 0, the fault bit, 12 bits of the chip's own temperature in
1/16 K, a bit that is always 0, then short to supply, short to ground, open. The chip takes the thermocouple
for a straight line of 41.276 uV/K (its table 1, from memory); here the voltage behind its answer is found
again and turned into a temperature by the reference table (NIST ITS-90, type K).
"""

OK, OPEN, SHORT_GROUND, SHORT_SUPPLY, SILENT, OUTSIDE = range(6)
FAULTS = ("good", "open", "short to ground", "short to supply", "silent", "out of range")

_FIRST_C, _STEP_MC = -40, 10_000
# ITS-90 type K, 0.1 uV at -40, -30 ... 500 degC, against 0 degC; straight lines between are true to 0.03 K.
_TABLE = (
    -15269, -11561, -7775, -3919, 0, 3969, 7981, 12033, 16118, 20231, 24365, 28512, 32666, 36819, 40962,
    45091, 49199, 53284, 57345, 61383, 65402, 69406, 73400, 77391, 81385, 85386, 89399, 93427, 97472,
    101534, 105613, 109709, 113821, 117947, 122086, 126236, 130396, 134566, 138745, 142931, 147126, 151327,
    155536, 159750, 163971, 168198, 172431, 176669, 180911, 185158, 189409, 193663, 197921, 202181, 206443,
)
_MEAN_STEP = 4106
_LAST_MC = _FIRST_C * 1000 + (len(_TABLE) - 1) * _STEP_MC


def volts_of(mc):
    """Voltage of type K [0.1 uV] at a temperature [milli-degC] within the table."""
    i = (mc - _FIRST_C * 1000) // _STEP_MC
    i = max(0, min(len(_TABLE) - 2, i))
    part = mc - _FIRST_C * 1000 - i * _STEP_MC
    return _TABLE[i] + ((_TABLE[i + 1] - _TABLE[i]) * part + _STEP_MC // 2) // _STEP_MC


def mc_of(volts):
    """Temperature [milli-degC] at a voltage of type K [0.1 uV], or None outside the table."""
    if not _TABLE[0] <= volts <= _TABLE[-1]:
        return None
    i = min(max((volts - _TABLE[0]) // _MEAN_STEP, 0), len(_TABLE) - 2)
    while _TABLE[i] > volts:
        i -= 1
    while _TABLE[i + 1] < volts:
        i += 1
    wide = _TABLE[i + 1] - _TABLE[i]
    return _FIRST_C * 1000 + i * _STEP_MC + ((volts - _TABLE[i]) * _STEP_MC + wide // 2) // wide


def true_mc(quarters, sixteenths):
    """Temperature [milli-degC] behind the chip's answer: its linear 0.25 K and its own 1/16 K; or None."""
    own_mc = sixteenths * 125 // 2
    # 41.276 uV/K of the difference, in 0.1 uV: 0.41276 of each mK
    volts = (quarters * 250 - own_mc) * 1032 // 2500
    return mc_of(volts + volts_of(own_mc)) if _FIRST_C * 1000 <= own_mc <= 125_000 else None


class Thermocouple:
    """spi: readinto(buffer); select: a pin, low while this chip speaks.

    After read(): fault (row of FAULTS), mc (milli-degC, None with a fault), code (the whole frame, two
    halves packed small) to tell a frozen chip by.
    """

    def __init__(self, spi, select):
        self.spi = spi
        self.select = select
        self.fault = SILENT
        self.mc = None
        self.frame = bytearray(4)

    def read(self):
        """One transfer of 32 bits, about 40 us at 1 MHz; never raises. Returns the fault."""
        frame = self.frame
        self.mc = None
        try:
            self.select.value(0)
            self.spi.readinto(frame)
        except OSError:
            self.fault = SILENT
            return SILENT
        finally:
            self.select.value(1)
        self.fault = self._judge(frame)
        return self.fault

    def _judge(self, f):
        # A line stuck high or low gives no frame: reserved bits are 0, and 0.00 twice is no weather.
        if (f[1] & 2) or (f[3] & 8) or not (f[0] or f[1] or f[2] or f[3]):
            return SILENT
        if f[1] & 1:
            return OPEN if f[3] & 1 else SHORT_GROUND if f[3] & 2 else SHORT_SUPPLY if f[3] & 4 else SILENT
        quarters = f[0] << 6 | f[1] >> 2
        sixteenths = f[2] << 4 | f[3] >> 4
        if quarters & 0x2000:
            quarters -= 0x4000
        if sixteenths & 0x800:
            sixteenths -= 0x1000
        self.mc = true_mc(quarters, sixteenths)
        return OUTSIDE if self.mc is None else OK
