"""What the link may ask of the board. A remote host may make it leave; it may never arm.

Units: degrees and percent on the link, micro-degrees and permille within.
"""

import math

from ..declared import events as ev
from ..declared import interlocks as table
from ..declared import modes
from ..heat import dial
from ..link.rpc import RpcRefusal

VERSION = "0.1.0"
_REFUSED = -32000
_SIGHT_MDEG = 100  # a shadow sight read by eye; common practice, no source
_CLOCK_MOVES_S = 30  # 0.13 deg of sun: so far a host alone may set a clock that runs
_NORTH_MAX_SIN = 0.966  # above 75 deg the sun says little of north
_NORTH_MIN_SIN = 0.087
_PLAY = ("the play of axis %d is not taken up: nudge it back by more than its play, then on to the sun "
         "from its own side, and set north again")
_NORTH_WORDS = (
    "",
    "the sun must stand between 5 and 75 deg to tell north",
    "it still moves: wait until it stands, look at the sight again, then set north",
    _PLAY % 1,
    _PLAY % 2,
    "the sun sensor sees the sun far from where the dish looks: set the clock, turn the dish onto the sun, "
    "then set north",
)


def _celsius(probe):
    """What a probe reads, to a tenth [degC]; None where there is no probe or nothing to believe."""
    return None if probe is None else _told(probe.mc)


def _told(mc):
    return None if mc is None else mc // 100 / 10


class Service:
    """Handlers for the declared methods, by name."""

    def __init__(self, app):
        self.app = app
        self.handlers = {}
        for name in ("hello", "status", "sensors", "leave", "aside", "heat", "cook", "nudge", "set", "log",
                     "clear", "subscribe", "console"):
            self.handlers[name] = getattr(self, "do_" + name)

    def do_hello(self, params):
        a = self.app
        out = a.board.about()
        out.update({"firmware": VERSION, "board": a.board_name, "events": len(ev.EVENTS),
                    "interlocks": len(table.ROWS), "folder": a.shelf, "proven": a.proven,
                    "trouble": a.trouble, "why": a.loader.why() if a.loader else ""})
        if a.loader and not (a.checks.files.bad or a.checks.files.data_bad):
            out["holds"] = a.loader.holds
        return out

    def do_status(self, params):
        a = self.app
        c = a.controller
        out = {"version": VERSION, "trouble": a.trouble}
        if c is None:
            return out
        axes = [0, 0]
        a.mount.axes_udeg(axes)
        out.update({
            "mode": modes.NAMES[c.mode], "words": modes.WORDS[c.mode], "armed_s": max(0, c.armed_ms) // 1000,
            "heat_kind": dial.KINDS[c.dial.kind], "heat_asked": c.dial.asked,
            "heat_percent": c.heat_permille / 10, "lag_deg": c.tracker.wanted_udeg / 1e6,
            "heat_now_percent": a.heating.permille / 10, "heat_now_w": int(a.heating.heat_w),
            "full_heat_now_w": int(a.heating.full_w), "heat_least_percent": c.dial.least / 10,
            "attendance_s": max(0, c.attend_ms) // 1000,
            "axis1_deg": axes[0] / 1e6, "axis2_deg": axes[1] / 1e6,
            "place_known": not c.homing_needed, "moving": a.mount.moving,
            "play_up": [axis.taken_up for axis in a.mount.axes],
            "clock_known": a.clock.known, "clock_was_set": a.clock.was_set, "day": a.clock.day,
            "ms": a.clock.ms, "beam_w_m2": int(a.sensors.beam_w_m2), "open_w_m2": int(a.sensors.open_w_m2),
            "contents_c": _celsius(a.sensors.contents), "underside_c": _celsius(a.sensors.underside),
            "sun_elevation_deg": round(a.sun.elevation_deg, 3) if a.sun_ok else None,
            "tripped": [table.ROWS[i][0] for i in range(a.locks.n) if a.locks.tripped[i]],
            "bad_lines": a.rpc.bad_lines, "worst_tick_ms": a.worst_ms, "north_deg": a.north_deg,
            "north_age_h": self._north_age_h(),
            "park": c.rest.words[c.rest.which], "rest_deg": c.rest.rest_udeg // 100_000 / 10,
        })
        spare = a.board.spare
        if spare is not None:
            out["air_c"] = _told(spare.air_mc)
            out["spare_c"] = [_told(mc) for mc in spare.pots_mc]
        if a.season is not None:
            out.update(a.season.told())
        return out

    def do_sensors(self, params):
        """V, m/s, degC, W/m2 to the right, up and along, deg; encoders as they read, with their zero in."""
        a = self.app
        if a.controller is None:
            return {}
        e = a.watch.extras
        lean = e.lean or (None, None)
        out = {"supply_v": e.supply_v, "gust_m_s": e.gust_m_s, "board_c": e.board_c,
               "sun_sensor_w_m2": e.sun_w_m2}
        for name, udeg in (("lean_east_deg", lean[0]), ("lean_north_deg", lean[1]),
                           ("encoder1_deg", e.absolute_udeg[0]), ("encoder2_deg", e.absolute_udeg[1])):
            out[name] = None if udeg is None else udeg / 1e6
        return {name: value for name, value in out.items() if value is not None}

    def _north_age_h(self):
        """Hours since north was set on this board; -1: never, or the time is not known."""
        return self.app.daily.age_h(self.app.clock.day, self.app.clock.ms) if self.app.clock.known else -1

    def _need_controller(self):
        if self.app.controller is None:
            raise RpcRefusal(_REFUSED, self.app.trouble)
        return self.app.controller

    def do_leave(self, params):
        self._need_controller().ask_leave()
        return {"mode": modes.NAMES[self.app.controller.mode]}

    def do_aside(self, params):
        if not self._need_controller().ask_aside():
            raise RpcRefusal(_REFUSED, "the dish is not on the sun")
        return {"mode": "ASIDE"}

    def do_heat(self, params):
        c = self._need_controller()
        if c.mode not in modes.COOKS or c.attend_ms <= 0:
            raise RpcRefusal(_REFUSED, "heat is changed from afar only while a cook attends")
        return self._ask(c, params)

    def _ask(self, c, params):
        """Take one of percent, watts and pot_c; what is below the least heat is refused, 0 leaves."""
        given = [i for i in range(len(dial.KINDS)) if dial.KINDS[i] in params]
        if len(given) != 1:
            raise RpcRefusal(-32602, "heat: give one of percent, watts, pot_c")
        kind = given[0]
        value = params[dial.KINDS[kind]]
        least = c.dial.least / 10
        if kind == dial.WATTS:
            least = self.app.heating.full_w * least / 100
        if 0 < value < least and kind != dial.POT:
            raise RpcRefusal(_REFUSED, "%s: %g is below the least heat of this dish, now %g; give more, "
                             "or 0 to leave the sun" % (dial.KINDS[kind], value, least))
        c.ask_heat(kind, int(value * dial.SCALE[kind] + 0.5))
        if c.dial.refused:
            raise RpcRefusal(_REFUSED, c.dial.refused)
        put = getattr(self.app.board.knob, "put", None)  # a rotary knob goes on from there
        if put is not None:
            self.app.panel.knob.put(put(c.dial.permille // 10))
        return {"heat_percent": c.heat_permille / 10, "heat_kind": dial.KINDS[kind], "heat_asked": value}

    def do_cook(self, params):
        c = self._need_controller()
        if c.mode != modes.PARKED or c.armed_ms <= 0:
            raise RpcRefusal(_REFUSED, "press ARM at the dish first")
        return self._ask(c, params)

    def do_nudge(self, params):
        c = self._need_controller()
        if not c.ask_jog(params["axis"], params["rate_percent"], params["hold_ms"], params["covered"]):
            raise RpcRefusal(_REFUSED, "nudging needs a parked, covered dish, a closed stop chain, and ASIDE "
                             "pressed there")
        return {"mode": modes.NAMES[c.mode]}

    def do_set(self, params):
        what = params["what"]
        if what == "time":
            return self._set_time(params)
        if what == "north":
            return self._set_north()
        if what == "season" and self.app.season is not None:
            return self.app.season.asked(params)
        raise RpcRefusal(-32602, "what: '%s' is not of this dish" % what)

    def _set_time(self, params):
        a = self.app
        day, ms = params.get("day"), params.get("ms")
        if day is None or ms is None:  # their limits are judged by the declared table
            raise RpcRefusal(-32602, "time: both day and ms are needed")
        c = a.controller
        if c is not None:
            if c.mode not in (modes.PARKED, modes.LOCKED, modes.BY_HAND):
                raise RpcRefusal(_REFUSED, "the clock is set only while parked")
            if a.clock.known and c.lent_ms <= 0:
                days = max(-2, min(2, day - a.clock.day))
                off_s = abs(days * 86400 + (ms - a.clock.ms) // 1000)
                if a.clock_moved_s + off_s > _CLOCK_MOVES_S:
                    raise RpcRefusal(_REFUSED, "the clock runs and says otherwise: press ASIDE at the "
                                     "resting dish, then set it")
                a.clock_moved_s += off_s
            c.disarm_afar()
        # a clock that runs within its table is set to a day beyond it by mistake or malice
        if a.sun_ok and a.sun.table is a.table and not a.table.first_day <= day <= a.table.last_day:
            raise RpcRefusal(_REFUSED, "the sun table does not cover that day: give another, or install a "
                             "table for it first")
        a.clock.set(day, ms)
        a.emit(ev.CODES["clock_set"], day, ms // 1000)
        a.sun_changed()
        return {"day": day, "ms": ms}

    def _set_north(self):
        a = self.app
        c = self._need_controller()
        if c.mode != modes.BY_HAND or not a.sun_ok or c.homing_needed or a.conditions.table_row >= 0:
            raise RpcRefusal(_REFUSED, "sight the sun by nudging first, with clock and table good")
        why = self._north_doubt()
        if why:
            a.emit(ev.CODES["north_refused"], int(a.sun.elevation_deg * 1000), why)
            raise RpcRefusal(_REFUSED, _NORTH_WORDS[why])
        vec = [0.0, 0.0, 0.0]
        a.mount.enu(vec)
        turn = math.degrees(math.atan2(a.sun.e, a.sun.n) - math.atan2(vec[0], vec[1]))
        turn = (turn + 180.0) % 360.0 - 180.0
        was, age_h = a.north_deg, self._north_age_h()
        a.set_north(was + turn)
        se_mdeg = int(_SIGHT_MDEG / math.sqrt(1.0 - a.sun.u * a.sun.u))
        a.emit(ev.CODES["north_set"], round(a.north_deg * 1000), se_mdeg)
        return {"north_deg": a.north_deg, "standard_error_deg": se_mdeg / 1000, "turned_deg": turn,
                "was_deg": was, "was_age_h": age_h}

    def _north_doubt(self):
        """Row of _NORTH_WORDS that speaks against the present sight, or 0."""
        a = self.app
        if not _NORTH_MIN_SIN < a.sun.u < _NORTH_MAX_SIN:
            return 1
        if a.mount.moving:
            return 2
        for i in range(2):
            if not a.mount.axes[i].taken_up:
                return 3 + i
        sight = a.watch.sight
        # 16 deg: a sight read wrongly is none of its business, a dish that rests off the sun is
        return 5 if sight is not None and sight.elsewhere else 0

    def do_log(self, params):
        return {"records": self.app.journal_read(params["from"], params["count"])}

    def do_clear(self, params):
        c = self._need_controller()
        code = params["code"]
        if not 0 <= code < len(table.ROWS):
            raise RpcRefusal(-32602, "code: %d is not 0..%d" % (code, len(table.ROWS) - 1))
        if table.ROWS[code][0] not in table.FROM_AFAR:
            raise RpcRefusal(_REFUSED, "go and look: %s is cleared at the dish, CONFIRM held for 3 s"
                             % table.ROWS[code][0])
        if c.attend_ms <= 0:
            raise RpcRefusal(_REFUSED, "press CONFIRM at the dish first: a cook must be there")
        if c.mode not in (modes.PARKED, modes.LOCKED) or not c.clear(code):
            raise RpcRefusal(_REFUSED, "%s: its cause is still there" % table.ROWS[code][0])
        return {"cleared": table.ROWS[code][0]}

    def do_subscribe(self, params):
        self.app.telemetry_ms = params["telemetry_ms"]
        return {"telemetry_ms": self.app.telemetry_ms}

    def do_console(self, params):
        a = self.app
        c = a.controller
        if a.loader is None:
            raise RpcRefusal(_REFUSED, "this board was not started by its loader: it has no way back")
        if c is not None and (c.mode not in (modes.PARKED, modes.LOCKED) or c.busy or c.armed_ms > 0):
            raise RpcRefusal(_REFUSED, "the console is given only while the dish rests, unarmed: leave first")
        a.console_asked = True
        return {"console": True}
