"""Every setting of a cooker, declared once for board, bench and host.

Row: (key, kind, default, low, high, unit, sentence, on_board). The unit of each value is in its row and
at the end of its name: deg, m, W/m2, s, min, ms, percent. Kinds: 'float', 'int', 'bool', 'text',
'choice' (low holds the words allowed) and 'angle' (degrees in the file; a whole number of
micro-degrees on the board, where the name then ends in _udeg).
The defaults describe an invented cooker in an invented courtyard; no real site, dish or cook is meant.
"""

VERSION = 2

_HEAD = (
    ("site.name", "text", "Invented courtyard", 0, 60, "", "What you call the place.", False),
    ("site.timezone", "text", "Asia/Kolkata", 1, 60, "", "Zone of your clocks, as in the IANA list.", False),
    ("site.latitude_deg", "angle", 24.6, -89.0, 89.0, "deg", "Latitude, north positive.", True),
    ("site.longitude_deg", "angle", 73.7, -180.0, 180.0, "deg", "Longitude, east positive.", True),
    ("site.altitude_m", "float", 600.0, -430.0, 5500.0, "m", "Height above sea level.", True),
    ("site.temp_c", "float", 15.0, -40.0, 50.0, "degC", "Usual air temperature, for refraction.", True),
    ("dish.aperture_diameter_m", "float", 1.4, 0.3, 4.0, "m", "Diameter of the dish across its rim.", True),
    ("dish.focal_length_m", "float", 0.55, 0.1, 3.0, "m", "From the dish's lowest point to its focus.", True),
    ("dish.centre_hole_m", "float", 0.0, 0.0, 2.0, "m",
     "Diameter of a hole in the dish's middle; 0: none.", False),
    ("dish.reflectance", "float", 0.85, 0.2, 1.0, "1", "Share of light the clean mirror gives back.", False),
    ("dish.soiling", "float", 0.0, 0.0, 0.7, "1", "Share of that lost to dust on the mirror.", False),
    ("dish.arm_shade", "float", 0.0, 0.0, 0.3, "1",
     "Share of light kept off the dish by the pot's arms and other struts.", False),
    ("dish.slope_error_mrad", "float", 5.0, 0.0, 30.0, "mrad",
     "RMS error of the mirror's slope, each way.", False),
    ("dish.specularity_mrad", "float", 2.0, 0.0, 30.0, "mrad",
     "RMS scatter of the mirror's film, each way.", False),
    ("dish.pot_clear_deg", "float", 20.0, 5.0, 60.0, "deg",
     "Off the sun by this much, the pot gets no light.", True),
    ("dish.loose_clear_deg", "float", 75.0, 10.0, 120.0, "deg",
     "Off the sun by this much, no gathered light is loose near the pot; leaving and park go by it.", True),
    ("dish.cover_below_deg", "float", 90.0, 10.0, 180.0, "deg",
     "Parked with the sun to come nearer than this, it asks for its cover.", True),
    ("pot.diameter_m", "float", 0.24, 0.05, 1.0, "m", "Diameter of the pot.", True),
    ("pot.height_m", "float", 0.16, 0.03, 1.0, "m", "Height of the pot.", False),
    ("pot.bottom_above_focus_m", "float", -0.03, -0.5, 0.5, "m",
     "Height of the pot's bottom above the focus; negative is below.", False),
    ("pot.absorptance", "float", 0.9, 0.1, 1.0, "1",
     "Share of light the pot's bottom takes up: matt black 0.9, bare 0.3.", False),
    ("pot.wall_absorptance", "float", 0.0, 0.0, 1.0, "1", "The same of its wall; 0: as its bottom.", False),
    ("pot.lid_absorptance", "float", 0.0, 0.0, 1.0, "1", "The same of its lid; 0: as its bottom.", False),
    ("guard.diameter_m", "float", 0.0, 0.0, 2.0, "m",
     "Diameter of the level guard plate about the pot; 0: none.", False),
    ("guard.below_focus_m", "float", 0.03, -0.5, 0.5, "m",
     "How far the guard plate lies below the focus; negative is above.", False),
    ("mount.kind", "choice", "altaz", ("altaz", "polar"), None, "",
     "altaz: axis 1 turns round, axis 2 lifts. polar: axis 1 follows the hours, axis 2 the season.", True),
    ("mount.north_deg", "float", 0.0, -180.0, 180.0, "deg",
     "Turn of the base from true north, clockwise.", True),
    ("mount.tilt_east_deg", "float", 0.0, -10.0, 10.0, "deg",
     "Lean of the base's upright to the east.", True),
    ("mount.tilt_north_deg", "float", 0.0, -10.0, 10.0, "deg",
     "Lean of the base's upright to the north.", True),
    ("mount.square_deg", "float", 0.0, -5.0, 5.0, "deg",
     "By how much the two axes miss a right angle.", True),
)


def _axis(name, low, high, home, speed, accel, approach):
    return (
        (name + ".low_deg", "float", low, -360.0, 360.0, "deg", "Lower end of its travel.", True),
        (name + ".high_deg", "float", high, -360.0, 720.0, "deg", "Upper end of its travel.", True),
        (name + ".zero_deg", "float", 0.0, -180.0, 180.0, "deg",
         "Correction to its zero, from alignment.", True),
        (name + ".home_deg", "float", home, -360.0, 720.0, "deg",
         "Where its home flag changes; best within 3 deg of the pole's reading.", True),
        (name + ".steps_per_turn", "int", 288000, 3600, 4000000, "steps",
         "Motor steps for a whole turn of the axis.", True),
        (name + ".speed_deg_s", "float", speed, 0.05, 20.0, "deg/s", "Greatest speed.", True),
        (name + ".accel_deg_s2", "float", accel, 0.05, 50.0, "deg/s2", "Greatest acceleration.", True),
        (name + ".backlash_deg", "float", 0.2, 0.0, 5.0, "deg", "Play in its gearing.", True),
        (name + ".approach", "int", approach, -1, 1, "",
         "Side it ends a move from: -1, 1; 0 if weight keeps it there.", True),
        (name + ".reversed", "bool", False, None, None, "",
         "Whether the motor turns the other way round.", True),
        (name + ".drive", "choice", "stepper", ("stepper", "motor", "actuator", "hand"), None, "",
         "What turns it: a stepper; a DC motor or a linear actuator with pulses; or a hand, every few days, "
         "axis 2 of a polar mount.", True),
        (name + ".pulses_per_turn", "float", 7200.0, 36.0, 400000.0, "1",
         "Pulses of a DC motor's sensor in a whole turn of the axis.", True),
        (name + ".pulses_per_mm", "float", 1.0, 0.1, 100.0, "1/mm",
         "Pulses of a linear actuator's sensor in a millimetre of its stroke.", True),
        (name + ".channels", "int", 1, 1, 2, "",
         "Pulse lines of a motor or actuator: 1 (reed, Hall) or 2 that also tell the direction.", True),
        (name + ".foot_m", "float", 0.5, 0.02, 5.0, "m",
         "From the axis to the foot of its linear actuator.", True),
        (name + ".head_m", "float", 0.4, 0.02, 5.0, "m",
         "From the axis to the head of its linear actuator.", True),
        (name + ".triangle_deg", "float", 40.0, -180.0, 360.0, "deg",
         "Angle between its foot and head, seen from the axis, when the axis reads 0.", True),
        (name + ".coast_s", "float", 0.5, 0.1, 5.0, "s",
         "A motor or actuator stands by then, once it is switched off.", True),
        (name + ".stall_s", "float", 1.0, 0.5, 10.0, "s",
         "Patience with a missing pulse: its speed follows the voltage in a seventh of it.", True),
    )


_TAIL = (
    ("tracking.deadband_deg", "float", 0.08, 0.01, 2.0, "deg",
     "How far the sun may run ahead before a step.", True),
    ("tracking.season_band_deg", "float", 0.4, 0.1, 0.5, "deg",
     "With the season set by hand: off by more than this, it asks to be set.", True),
    ("heat.least_percent", "float", 40.0, 5.0, 100.0, "percent", "Least heat the dial goes down to.", True),
    ("heat.moves_per_hour", "int", 40, 6, 60, "1/h",
     "Most changes of heat an hour while it holds a pot temperature.", True),
    ("heat.loss_w_per_k", "float", 3.0, 0.2, 30.0, "W/K",
     "What the pot loses for each K above the air, to begin with; learned while it cooks.", True),
    ("heat.trim", "bool", False, None, None, "",
     "Whether the dial is corrected by how fast the food warms: for pots set down by hand.", True),
    ("probe.contents", "bool", True, None, None, "", "Whether a probe stands in the food.", True),
    ("probe.underside", "bool", True, None, None, "", "Whether a probe sits under the pot.", True),
    ("cook.attendance_min", "float", 60.0, 5.0, 240.0, "min",
     "It leaves the sun if nobody presses a key so long.", True),
    ("cook.arm_timeout_min", "float", 10.0, 1.0, 30.0, "min",
     "How long an armed return to the sun stays armed.", True),
    ("cook.warn_s", "float", 3.0, 2.0, 20.0, "s", "How long it sounds before it moves.", True),
    ("cook.return_after_cloud", "bool", False, None, None, "",
     "Whether it may come back by itself after a cloud, while the cook is still there.", True),
    ("cook.by_hand_timeout_min", "float", 5.0, 1.0, 30.0, "min",
     "Moved by hand and then left alone so long: it warns and parks.", True),
    ("cook.display", "bool", False, None, None, "",
     "Whether a small display with the cook's page is fitted.", True),
    ("cook.knob_rotary", "bool", False, None, None, "",
     "Whether the heat knob is a rotary one (two contacts in quadrature) in place of a potentiometer.", True),
    ("interlock.light_low_w_m2", "float", 250.0, 50.0, 600.0, "W/m2",
     "Beam below this is no use for cooking.", True),
    ("interlock.light_low_dwell_s", "float", 600.0, 30.0, 3600.0, "s",
     "Weak light so long: it leaves.", True),
    ("interlock.light_back_w_m2", "float", 350.0, 50.0, 900.0, "W/m2",
     "Beam above this is worth coming back for.", True),
    ("interlock.light_back_dwell_s", "float", 180.0, 10.0, 3600.0, "s",
     "Good light so long: it may come back.", True),
    ("interlock.sun_low_deg", "float", 10.0, 1.0, 40.0, "deg",
     "Below this elevation of the sun it leaves.", True),
    ("interlock.sun_low_hysteresis_deg", "float", 1.0, 0.1, 5.0, "deg",
     "So much higher it may come back.", True),
    ("interlock.north_old_h", "float", 16.0, 0.0, 240.0, "h",
     "A daily setting of north older than this must be taken again; 0: never.", True),
    ("interlock.clock_jump_s", "float", 5.0, 1.0, 60.0, "s", "Greatest step between the two clocks.", True),
    ("interlock.table_warn_days", "int", 30, 1, 365, "days",
     "How long before its end the sun table is told.", True),
    ("interlock.loop_late_ms", "int", 400, 50, 2000, "ms", "A control cycle this late is a fault.", True),
    ("interlock.pot_missing_dwell_s", "float", 1.5, 0.5, 10.0, "s",
     "Pot off its stand so long on the sun: it leaves.", True),
    ("interlock.pot_hot_c", "float", 220.0, 110.0, 450.0, "degC",
     "Pot about to be hotter than this underneath: it leaves.", True),
    ("interlock.scorch_k_per_w", "float", 0.04, 0.005, 1.0, "K/W",
     "Underside above contents, for each watt on the pot, at which food sticks and burns.", True),
    ("interlock.scorch_dwell_s", "float", 40.0, 5.0, 600.0, "s", "Scorching so long: it turns down.", True),
    ("interlock.scorch_leave_s", "float", 240.0, 20.0, 1800.0, "s",
     "Scorching so long, turned down as it is: it leaves.", True),
    ("interlock.dry_dwell_s", "float", 20.0, 5.0, 300.0, "s", "Pot boiled dry so long: it leaves.", True),
    ("interlock.probe_dwell_s", "float", 5.0, 1.0, 60.0, "s",
     "Probe open, short or silent so long: it turns down.", True),
    ("interlock.probe_stuck_s", "float", 900.0, 60.0, 7200.0, "s",
     "Probe that tells the very same while heat flows so long: it turns down.", True),
    ("interlock.light_sensor_s", "float", 30.0, 5.0, 600.0, "s",
     "Light sensor silent so long: it leaves.", True),
    ("sensor.beam_w_m2_full", "float", 1500.0, 500.0, 5000.0, "W/m2",
     "Beam at full scale of the tube sensor.", True),
    ("sensor.open_w_m2_full", "float", 1500.0, 500.0, 5000.0, "W/m2",
     "Light at full scale of the open cell.", True),
    ("sensor.sun", "bool", True, None, None, "",
     "Whether a sun-direction sensor is fitted at the dish's rim.", True),
    ("sensor.sun_w_m2_full", "float", 1500.0, 500.0, 5000.0, "W/m2",
     "Light at full scale of its photodiodes.", True),
    ("sensor.wind_hz_per_m_s", "float", 0.0, 0.0, 50.0, "Hz/(m/s)",
     "Pulses of the anemometer a second in a wind of 1 m/s; 0: none fitted.", True),
    ("sensor.supply_ratio", "float", 0.0, 0.0, 50.0, "V/V",
     "Supply for each volt behind its divider; 0: not measured.", True),
    ("sensor.base_tilt", "bool", False, None, None, "",
     "Whether an accelerometer sits on the base.", True),
    ("sensor.axis1_encoder", "bool", False, None, None, "",
     "Whether a magnetic encoder reads axis 1.", True),
    ("sensor.axis1_zero_deg", "float", 0.0, -360.0, 360.0, "deg",
     "What the encoder tells where axis 1 reads 0.", True),
    ("sensor.axis2_tilt", "bool", False, None, None, "",
     "Whether an accelerometer on the dish tells its elevation; for altaz mounts.", True),
    ("sensor.axis2_zero_deg", "float", 0.0, -90.0, 90.0, "deg",
     "What it tells where axis 2 reads 0.", True),
    ("sensor.air", "bool", False, None, None, "",
     "Whether a probe in the shade tells the air's temperature; told only.", True),
    ("sensor.spare_probes", "int", 0, 0, 4, "", "Probes in pots on other cookers; told only.", True),
    ("interlock.wind_m_s", "float", 12.0, 3.0, 40.0, "m/s", "In gusts above this it leaves.", True),
    ("interlock.wind_calm_s", "float", 600.0, 30.0, 7200.0, "s",
     "Gusts below three quarters of it so long: it may come back.", True),
    ("interlock.base_moved_deg", "float", 1.0, 0.2, 10.0, "deg",
     "Base leaning so much otherwise than when north was set: it leaves.", True),
    ("interlock.sun_sensor_deg", "float", 3.0, 1.0, 20.0, "deg",
     "Sun seen from the dish this far from where clock, base and motors have it: it leaves.", True),
    ("interlock.axis_off_deg", "float", 3.0, 1.0, 20.0, "deg",
     "An axis this far by its encoder from where it is believed to be: it leaves.", True),
    ("interlock.supply_low_v", "float", 11.5, 3.0, 60.0, "V",
     "Supply below this, with enough left for one leave: it leaves.", True),
    ("interlock.board_hot_c", "float", 70.0, 40.0, 85.0, "degC", "Board hotter than this: it leaves.", True),
    ("interlock.light_stuck_s", "float", 900.0, 120.0, 7200.0, "s",
     "Light sensor that tells the very same by day so long: it leaves.", True),
    ("park.pole_by_night", "bool", False, None, None, "",
     "Whether in summer it rests at the pole by night: ready for the morning sun, to be covered.", True),
)

SETTINGS = (
    _HEAD
    + _axis("axis1", -20.0, 380.0, -2.0, 8.0, 8.0, 1)
    + _axis("axis2", -2.0, 92.0, 22.6, 3.0, 3.0, 0)
    + _TAIL
)

# What the ray trace depends on. Its fingerprint (host: sunhob.optics.geometry) is kept with the heat table.
OPTICS_KEYS = (
    "dish.aperture_diameter_m", "dish.focal_length_m", "dish.centre_hole_m", "dish.reflectance",
    "dish.soiling", "dish.arm_shade", "dish.slope_error_mrad", "dish.specularity_mrad",
    "pot.diameter_m", "pot.height_m", "pot.bottom_above_focus_m",
    "pot.absorptance", "pot.wall_absorptance", "pot.lid_absorptance",
    "guard.diameter_m", "guard.below_focus_m",
)


def board_name(key, kind):
    """Attribute on the board for a key: 'site.latitude_deg' of kind 'angle' is site_latitude_udeg."""
    name = key.replace(".", "_")
    if kind == "angle":
        return name[: -len("deg")] + "udeg"
    return name


def board_names():
    """Of each row the board holds, in order: the attribute of its value, and of an angle's in degrees. In
    what is put onto a board: a letter and the row's number, but for the axes', asked for by name."""
    return [(board_name(row[0], row[1]), row[0].replace(".", "_")) for row in board_rows()]


def board_default(row):
    """The default of a row in board units (micro-degrees for an angle)."""
    return round(row[2] * 1_000_000) if row[1] == "angle" else row[2]


def board_rows():
    """The rows the board holds, in the order of their values in the settings file."""
    return [row for row in SETTINGS if row[7]]


def fingerprint(crc32):
    """Eight hex digits that change when the table does. In what is put onto a board: the digits alone."""
    return "%08x" % (crc32(table_text().encode()) & 0xFFFFFFFF)


def table_text():
    """The words a fingerprint is taken of: names, kinds and units of what the board holds."""
    return ";".join([r[0] + "," + r[1] + "," + r[5] for r in board_rows()]) + ";" + str(VERSION)
