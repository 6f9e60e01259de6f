"""Everything the board reports as it happens, declared once for board, bench and host.

An event is three integers: the row number here, and the two values described in the row.
Integers only, so that the last bit of a float decides nothing between interpreters.
Units stand in the descriptions: mdeg = 0.001 degree.
"""

EVENTS = (
    ("boot", "reset cause of the chip; 0: its watchdog was just proven", "1 place known, 0 place unknown"),
    ("mode", "mode left", "mode entered"),
    ("armed", "minutes until it lapses", ""),
    ("disarmed", "1 lapsed, 2 parked, 3 fault, 4 stop chain", ""),
    ("dial", "heat asked [permille of full]", "wanted lag [mdeg]"),
    ("settled", "wanted lag [mdeg]", ""),
    ("trip", "interlock row", "value that tripped it"),
    ("over", "interlock row", "value as it cleared"),
    ("warn", "mode it is about to enter", "seconds of warning"),
    ("plan", "milliseconds of motion", "legs"),
    ("no_path", "mode it was about to enter", "purpose: 0 leave, 1 come, 2 home"),
    ("homed", "axis", "correction [mdeg]"),
    ("clock_set", "day since 2000-01-01", "second of day"),
    ("north_set", "north correction [mdeg]", "its standard error [mdeg]"),
    ("north_refused", "sun elevation [mdeg]",
     "why: 1 sun too low or too high, 2 it moves, 3 or 4 play of axis 1 or 2 not taken up, 5 the sun is "
     "seen elsewhere"),
    ("confirm", "minutes granted", ""),
    ("attendance", "minutes without a sign of the cook", ""),
    ("stop_chain", "1 closed, 0 open", ""),
    ("saved", "slot", "1 done, 0 failed"),
    ("cleared", "interlock row", ""),
    ("hand_lapsed", "minutes without a nudge", ""),
    ("haze", "good light wanted before it comes back [s]", "returns cut short in a row"),
    ("park_moved", "place it sets out for: 0 pole, 1 poleward, 2 equatorward horizon",
     "least angle from the sun there [0.1 deg]"),
    ("asked", "kind of heat asked: 0 percent, 1 watts, 2 pot", "value: permille of full, W, 0.001 degC"),
    ("aim", "position angle from the sun's path, towards the north pole [deg]", "wanted lag [mdeg]"),
    ("doubt", "why the counts are doubted: 1 tube dark, 2 bright, 3, 4 home flag of axis 1, 2, 5 encoder, "
     "6 sun sensor",
     "angle of the counts from the sun [mdeg]"),
    ("dead_axis", "axis that does not turn as it is driven",
     "angle from the sun that the other one reaches [mdeg]"),
    ("walks_off", "minutes until the pot is clear of the light",
     "minutes until the surroundings are; -1 not within a day"),
    ("comes_back", "minutes until the sun is back on the pot; -1 not within a day", ""),
    ("season_set", "reading of the hand axis [mdeg]", "by how much the sun's season is past it [mdeg]"),
)

CODES = {}
for _i in range(len(EVENTS)):
    CODES[EVENTS[_i][0]] = _i
