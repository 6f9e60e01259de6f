"""Every method the link knows, declared once for board, bench and host.

Row: (name, parameters, who may, what it does). Parameter: (name, type, low, high, unit, needed).
Types: 'int' and 'number' lie between low and high in the unit given, both ends allowed; 'int0' is the
same or 0; 'bool' is true or false; 'choice' is one of the words in low. A parameter that is not needed
may be left out.
Both ends send the CRC of names and parameters in `hello`, so that a board and a host that differ find out.
"""

_HEAT = (
    ("percent", "number", 0, 100, "percent of full heat", False),
    ("watts", "number", 0, 20000, "W into the pot", False),
    ("pot_c", "number", 0, 120, "degC in the pot", False),
)

METHODS = (
    ("hello", (), "anyone", "Tell the versions and the CRC of this table."),
    ("status", (), "anyone", "Tell the mode, the axes, the sun, the heat and what is tripped."),
    ("sensors", (), "anyone", "Tell what further sensors see now; what is silent or not fitted is left out."),
    ("leave", (), "anyone, always", "Warn, leave the sun and park."),
    ("aside", (), "anyone, while it is on the sun",
     "Warn and go aside for hands at the pot. Coming back is asked for at the dish."),
    ("heat", _HEAT, "anyone, while a cook attends at the dish",
     "Change the heat, told in one of the ways; 0 leaves the sun."),
    ("cook", _HEAT, "anyone, after ARM was pressed at the dish",
     "Come to the sun at this heat, told in one of the ways."),
    ("nudge", (
        ("axis", "int", 1, 2, "axis", True),
        ("rate_percent", "int", -100, 100, "percent of full speed", True),
        ("hold_ms", "int", 20, 1000, "ms", True),
        ("covered", "bool", 0, 1, "true: the dish is covered", True),
    ), "who stands at the covered dish, after ASIDE was pressed there",
     "Turn one axis by hand; it stops after hold_ms unless asked again."),
    ("set", (
        ("what", "choice", ("time", "north", "season"), 0, "time, north or season", True),
        ("day", "int", 0, 36524, "days since 2000-01-01 UTC", False),
        ("ms", "int", 0, 86399999, "ms of the day UTC", False),
        ("angle_deg", "number", -60, 60, "deg on the scale of the hand axis", False),
    ), "anyone, while parked; north while moved by hand",
     "Set the clock, take the present sight of the sun as the true one, or confirm the season set by hand."),
    ("log", (
        ("from", "int", 0, 999999999, "record number", True),
        ("count", "int", 1, 16, "records", True),
    ), "anyone", "Read records of events."),
    ("clear", (("code", "int", 0, 255, "interlock row", True),),
     "anyone, while it does not move, the cause is gone and a cook attends",
     "Clear one latched interlock of those that need no look at the dish."),
    ("subscribe", (("telemetry_ms", "int0", 500, 60000, "ms between telemetry lines, 0 for none", True),),
     "anyone", "Ask for telemetry lines."),
    ("console", (), "anyone, while it rests and is not armed",
     "End the controller and give the board's console, for installing."),
)

# Errors of JSON-RPC 2.0 (specification of 2010-03-26, section 5.1), and the one of this board.
PARSE_ERROR = -32700
INVALID_REQUEST = -32600
NO_METHOD = -32601
INVALID_PARAMS = -32602
INTERNAL_ERROR = -32603
REFUSED = -32000
