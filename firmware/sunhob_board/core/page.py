"""The cook's page: eight rows of sixteen letters on a small display, no more than one row written in a tick.

Units: ms, degC, W, W/m2. Rows: mode; heat asked and given, or that it moves; contents and underside of the
pot; beam; confirmation due or arming left; why it does not cook, in two rows; time to the low sun, or the
angle to set the season to. The words of modes and interlocks lie in a file of records of one page's two rows
(host: sunhob.display_words), so that they take no memory; without it the interlocks' own names are shown.
"""

import math

from ..declared import interlocks as table
from ..declared import modes
from ..heat import dial as heat

_ROWS = 8
_WIDE = 16
_RECORD = 32
_TURN_MS = 3_000  # each reason stands so long
_RETRY_MS = 5_000
_UDEG = 180000000.0 / math.pi
_WORDS = "words.txt"


def words_head():
    """The first record of the file of words: which tables it was made for."""
    return "sunhob %d %d" % (len(modes.NAMES), len(table.ROWS))


def _span(minutes):
    return "%dmin" % minutes if minutes < 100 else "%dh%02d" % (minutes // 60, minutes % 60)


def _celsius(probe):
    return "--" if probe is None or probe.mc is None else "%d" % ((probe.mc + 500) // 1000)


class Page:
    """tick() once a tick; pending: more rows have changed than were written."""

    def __init__(self, app):
        self.app = app
        self.oled = app.board.display
        self.pending = False
        self._shown = [None] * _ROWS
        self._next = 0
        self._lit = False
        self._retry_ms = 0
        self._since_ms = 0
        self._turn = 0
        self._mode = self._told = -1
        self._title = ""
        self._cause = -1
        self._read = -1
        self._text = ("", "")
        self._good = self._record(-1).strip() == words_head()
        self._build = (self._what, self._heat, self._pot, self._beam, self._due, self._why, self._why_more,
                       self._later)

    def tick(self, dt_ms):
        """Write the next row that has changed."""
        self._follow(dt_ms)
        oled = self.oled
        self.pending = False
        if not oled.ready:
            self._retry_ms -= dt_ms
            if self._retry_ms <= 0:
                self._retry_ms = _RETRY_MS
                self._lit = False
                self._shown = [None] * _ROWS
                self.pending = oled.start()
            return
        for _ in range(_ROWS):
            row = self._next
            self._next = (row + 1) % _ROWS
            text = self._build[row]()
            if text != self._shown[row]:
                if oled.write(row, text):
                    self._shown[row] = text
                self.pending = True
                return
        if not self._lit:
            self._lit = oled.light()

    # --- why it does not cook -------------------------------------------------------------------------

    def _follow(self, dt_ms):
        """Keep why it left, and turn over to the next reason in force."""
        c = self.app.controller
        if c.mode != self._mode:
            if c.mode in (modes.LEAVING, modes.LOCKED) and self._mode in modes.COOKS:
                self._cause = self._strongest()
            elif c.mode in modes.COOKS:
                self._cause = -1
            self._mode = c.mode
        self._since_ms += dt_ms
        if self._since_ms >= _TURN_MS:
            self._since_ms = 0
            self._turn += 1

    def _strongest(self):
        locks, found = self.app.locks, -1
        for i in range(locks.n):
            if locks.is_tripped(i) and locks.actions[i] >= table.LEAVE and (
                    found < 0 or locks.actions[i] > locks.actions[found]):
                found = i
        return found if found >= 0 else locks.n

    def _reason(self):
        """Row of the interlocks to show now: those in force in turn, else why it left; -1 for none."""
        locks = self.app.locks
        count = sum(locks.tripped)
        if not count:
            return self._cause
        k = self._turn % count
        for i in range(locks.n):
            if locks.tripped[i]:
                if not k:
                    return i
                k -= 1
        return -1

    def _record(self, i):
        """Record i of the file of words, the head being -1; empty where there is none."""
        try:
            with open(self.app.shelf + _WORDS, "rb") as f:
                f.seek((i + 1) * _RECORD)
                return f.read(_RECORD).decode()
        except (OSError, ValueError):
            return ""

    def _words(self, i, name):
        if i != self._read:
            self._read = i
            text = self._record(i) if self._good else name.replace("_", " ")
            self._text = text[:_WIDE].rstrip(), text[_WIDE:].rstrip()
        return self._text

    # --- the rows -----------------------------------------------------------------------------------------

    def _what(self):
        mode = self.app.controller.mode
        if mode != self._told:
            self._told = mode
            self._title = self._record(mode)[:_WIDE].rstrip() if self._good else modes.NAMES[mode]
        return self._title

    def _heat(self):
        a, c = self.app, self.app.controller
        if c.warn_ms > 0 or (a.mount.moving and c.mode != modes.COOKING):
            return "KEEP CLEAR: goes" if a.mount.moving else "KEEP CLEAR"
        dial = c.dial
        unit = ("%", "W", "C")[dial.kind]
        given = "%dW" % a.heating.heat_w if dial.kind == heat.WATTS else "%d%%" % (a.heating.permille // 10)
        return ("Ask %d%s has %s" % (dial.asked, unit, given))[:_WIDE]

    def _pot(self):
        sensors = self.app.sensors
        return "Pot %s / %s C" % (_celsius(sensors.contents), _celsius(sensors.underside))

    def _beam(self):
        return "Beam %d W/m2" % self.app.sensors.beam_w_m2

    def _due(self):
        c = self.app.controller
        if c.mode in modes.COOKS:
            return "Confirm in " + _span(max(0, c.attend_ms) // 60_000)
        if c.armed_ms > 0:
            return "ARMED %d min" % (c.armed_ms // 60_000 + 1)
        return ""

    def _why(self):
        i = self._reason()
        if i < 0:
            return ""
        name = table.ROWS[i][0] if i < len(table.ROWS) else "you sent it"
        return self._words(len(modes.NAMES) + i, name)[0]

    def _why_more(self):
        return self._text[1] if self._shown[5] else ""

    def _later(self):
        a = self.app
        season = a.season
        if season is not None and season.to_udeg is not None and (
                season.set_udeg is None or a.locks.is_tripped(table.INDEX["season_due"])):
            tenths = abs(season.to_udeg) // 100_000
            return "Season to %s%d.%d" % ("-" if season.to_udeg < 0 else "+", tenths // 10, tenths % 10)
        if not a.sun_ok:
            return "Clock not set"
        minutes = self._low_in_min()
        return "Sun is low" if minutes <= 0 else "Low sun in " + _span(minutes)

    def _low_in_min(self):
        """Minutes until the sun sinks to where the dish leaves it; 0 where it is that low."""
        s, sun = self.app.s, self.app.sun
        low = math.sin(math.radians(s.interlock_sun_low_deg))
        if sun.u <= low:
            return 0
        lat, dec = s.site_latitude_udeg / _UDEG, sun.dec_udeg / _UDEG
        cos = (low - math.sin(lat) * math.sin(dec)) / (math.cos(lat) * math.cos(dec))
        if cos <= -1.0:
            return 1440
        return (int(math.acos(min(1.0, cos)) * _UDEG) - sun.ha_udeg) // 250_000
