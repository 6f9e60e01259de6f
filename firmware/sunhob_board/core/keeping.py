"""What is written at the end of a tick: the place of the dish, the journal, lamps, buzzer and motor power.

Units: ms. Part of the app, whose state it works on.
"""

from ..declared import interlocks as table
from ..declared import modes
from .phases import REST
from .place import ARMED_BY_COOK, MOVING, ON_SUN

_FLASH_MS = 400
_SAVE_PLACE_MS = 500
_JOURNAL_EVERY = 150
_POWERED = (modes.COMING, modes.COOKING, modes.LEAVING, modes.BY_HAND)


class Keeping:
    """After everything has acted."""

    def _keep_place(self, dt, moving):
        c = self.controller
        moving = moving or c.homing_needed
        flags = (MOVING if moving else 0) | (ON_SUN if c.on_sun else 0)
        if c.armed_ms > 0:
            flags |= ARMED_BY_COOK  # told in the log after a restart; never re-arms
        self._since_place += dt
        if flags == self._saved_flags and not (moving and self._since_place >= _SAVE_PLACE_MS):
            return
        self._since_place = 0
        self._saved_flags = flags
        if c.homing_needed and not c.rough:
            return
        self.mount.axes_udeg(self._axes)
        self.place.write(self._axes[0], self._axes[1], flags)

    def _keep_journal(self, c):
        # Flash is written only at rest and off the sun: an erase can stall the chip.
        self._acts += 1
        if self.journal.dirty and c.mode == modes.PARKED and not c.busy and self._acts % _JOURNAL_EVERY == 0:
            self.journal.save(self.slots)

    def _lamps(self, c, moving):
        out = 0
        # Where it rests off the sun the motors are without power: none can run away, the gears hold.
        if c.chain_closed and (moving or (c.mode in _POWERED and not c.astray)):
            out |= 1
        if c.buzzer:
            out |= 2
        if c.mode == modes.ASIDE and c.phase == REST and not c.busy and not c.rest.bright:
            out |= 4
        if c.armed_ms > 0:
            out |= 8
        if self.locks.strongest > table.TELL or self.locks.is_tripped(table.INDEX["park_bright"]):
            out |= 16
        if c.warn_ms > 0:  # the lamp flashes with the warning: the buzzer may be dead, or not be heard
            out = out & 15 | (16 if c.warn_ms // _FLASH_MS & 1 else 0)
        self.board.write_outputs(out)
