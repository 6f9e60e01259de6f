"""The interlocks, one row each: what trips, for how long, what it does, how it clears.

Row: (name, setting of the trip dwell or seconds, setting of the clear dwell or seconds, action,
latched, words for the cook: what happened; what the mount did; what to do).
Latched: False; True: until a person clears it; STAYS: and until then it stays where it rests, whatever light
is loose there, for stop chain or drives are in doubt. With any other a parked dish still moves on from
loose light to a clear place: who works on it has pressed the stop button.
Dwell is in seconds: a number, or the name of a setting that holds it.
Actions, weakest first: TELL only says it, BAR only forbids coming to the sun, LOWER holds the heat at the
least, ASIDE turns aside for hands at the pot, LEAVE goes to park after the warning, LOCK leaves if it can
and then waits for a person, HOLD cuts motion where it is.
"""

TELL = 0
BAR = 1
LOWER = 2
ASIDE = 3
LEAVE = 4
LOCK = 5
HOLD = 6
STAYS = 2
ACTIONS = ("TELL", "BAR", "LOWER", "ASIDE", "LEAVE", "LOCK", "HOLD")

ROWS = (
    ("stop_chain", 0, 0, HOLD, STAYS,
     "The stop chain was opened.", "Motor power was cut; the light may still be on the pot.",
     "Stand behind the dish, cover it or turn it off the sun by hand; close the chain, then press LEAVE."),
    ("settings", 0, 0, LOCK, True,
     "The settings are missing or corrupt.", "Nothing moves.", "Install the settings again."),
    ("clock_unset", 0, 2, LEAVE, False,
     "The clock is not set.", "It left the sun, or stays parked.", "Set the clock: sunhob dish set time."),
    ("clock_jumped", 0, 0, LEAVE, True,
     "The clock jumped against the second clock.", "It left the sun.",
     "Set the clock and look for the cause."),
    ("table_missing", 0, 0, LEAVE, False,
     "The sun table is missing.", "It left the sun, or stays parked.",
     "Put one on the board: sunhob board install."),
    ("table_corrupt", 0, 0, LEAVE, False,
     "The sun table is corrupt.", "It left the sun, or stays parked.",
     "Put a fresh one on the board: sunhob board install."),
    ("table_expired", 0, 0, LEAVE, False,
     "The sun table does not cover today.", "It left the sun, or stays parked.",
     "Put a new one on the board: sunhob board install."),
    ("table_ageing", 0, 0, TELL, False,
     "The sun table ends soon.", "Nothing.",
     "Put a new one on the board before it ends: sunhob board install."),
    ("place_unknown", 0, 0, BAR, False,
     "The axes do not know where they are.", "It will not come to the sun.",
     "Cover the dish, then press LEAVE: it homes itself."),
    ("axis_limit", 1, 5, LEAVE, False,
     "An axis came to the end of its travel.", "It left the sun.",
     "Press ARM: it comes by its other turn, or the sun is out of this mount's reach now."),
    ("light_low", "interlock_light_low_dwell_s", "interlock_light_back_dwell_s", LEAVE, False,
     "The sun has been weak too long.", "It left the sun.", "Wait for the sun, or finish in the box."),
    ("sun_low", 5, 5, LEAVE, False,
     "The sun is too low.", "It left the sun.", "Cooking by this sun is over for today, or not yet begun."),
    ("attendance", 0, 0, LEAVE, False,
     "Nobody confirmed being there.", "It left the sun.", "Press CONFIRM or ARM when you are back."),
    ("loop_late", 0, 10, LEAVE, True,
     "The control loop ran late.", "It left the sun.", "Report it with the log."),
    ("restarted", 0, 0, LEAVE, False,
     "The controller started, and may have been on the sun.", "It leaves for the park, unarmed.",
     "If you did not switch it on just now, look for the cause."),
    ("park_bright", 0, 0, TELL, False,
     "Where the dish rests, it gathers loose light by day at this time of year.", "Nothing.",
     "Cover the dish whenever it is parked by day. Until then keep people and all that burns 1.5 m away, or "
     "as far as sunhob optics says."),
    # It bars and does not merely tell: the dish is set down anew each day, and every promise to stay behind
    # the sun rests on north. It does not leave: a dish that cooks since this morning still stands as sighted.
    ("north_old", 0, 0, BAR, False,
     "North was set too long ago; the dish may stand otherwise today.", "It will not come to the sun.",
     "Sight the sun and set north again: sunhob dish set north."),
    ("pot_absent", 1, 1, BAR, False,
     "No pot stands at the focus.", "It will not come to the sun.", "Set the pot on its stand."),
    ("pot_missing", "interlock_pot_missing_dwell_s", 1, LEAVE, True,
     "The pot was gone from under the light.", "It left the sun.",
     "See that pot and stand are sound; set the pot back and clear the fault."),
    ("pot_lifted", 0.5, 1, ASIDE, False,
     "The pot was lifted, its probe with it.", "It turned aside.",
     "Set the pot back, plug the probe in, and press ASIDE to go on."),
    ("pot_hot", 0, 60, LEAVE, True,
     "The pot was about to be too hot.", "It left the sun.", "Let it cool; look for what is in it."),
    ("scorch", "interlock_scorch_dwell_s", 120, LOWER, False,
     "The food was beginning to stick and burn.", "It turned the heat to the least.",
     "Stir down to the bottom, or add water."),
    ("scorch_stays", "interlock_scorch_leave_s", 120, LEAVE, True,
     "The food went on burning at the least heat.", "It left the sun.",
     "Stir, add water, then clear the fault."),
    ("dry_pot", "interlock_dry_dwell_s", 60, LEAVE, True,
     "The pot boiled dry.", "It left the sun.", "Let it cool before water goes in; then clear the fault."),
    ("probe_contents", "interlock_probe_dwell_s", 10, LOWER, False,
     "The probe in the food is open, short or silent.", "It holds the heat at the least.",
     "Look at the probe and its plug; without one, set probe.contents to false."),
    ("probe_underside", "interlock_probe_dwell_s", 10, LOWER, False,
     "The probe under the pot is open, short or silent.", "It holds the heat at the least.",
     "Look at the probe and its plug; without one, set probe.underside to false."),
    ("probe_stuck", "interlock_probe_stuck_s", 10, LOWER, False,
     "A probe tells the very same all the time while heat flows.", "It holds the heat at the least.",
     "Look at the probe's converter and its plug."),
    ("light_sensor", "interlock_light_sensor_s", 5, LEAVE, False,
     "The light sensor is silent.", "It left the sun.", "Look at the sensor's wires and its converter."),
    ("way_closed", 0, 0, BAR, False,
     "From where it rests, no way to the morning sun keeps clear of it yet.", "It stays parked.",
     "Wait for a higher sun; or cover the dish and turn it to the pole by hand."),
    # It bars: without the table the dish knows neither how much heat it gives nor where its stray light goes.
    ("heat_table", 0, 0, BAR, False,
     "The heat table is missing, corrupt or made for other settings.", "It will not come to the sun.",
     "Install these settings with their table: sunhob board install."),
    # Self-checks (selfcheck/). What is loaded still runs when a file rots: the dish leaves while it can.
    ("code_bad", 0, 0, LOCK, True,
     "A file of the program is not what was installed.", "It left the sun, or stays parked.",
     "Install the program again; if it comes back, change the board."),
    ("code_unlisted", 0, 0, TELL, False,
     "The program's list of check sums is missing.", "Nothing; the program goes unchecked.",
     "Install the program with its list."),
    ("copy_bad", 0, 0, LEAVE, True,
     "A table or the settings changed, in flash or in memory.", "It left the sun, or stays parked.",
     "If you did not just install them, install them again; then switch off and on."),
    ("memory_bad", 0, 0, LOCK, True,
     "The controller's memory or arithmetic failed its test.", "It left the sun, or stays parked.",
     "Switch off and on; if it comes back, change the board."),
    ("memory_low", 30, 30, LEAVE, False,
     "The controller is short of memory.", "It left the sun, or stays parked.",
     "Switch off and on, and report it with the log."),
    ("clock_rate", 0, 0, LEAVE, True,
     "The two clocks run at different rates.", "It left the sun, or stays parked.",
     "Set the clock; if it comes back, change the clock chip or its battery."),
    ("output_stuck", 0, 1, LOCK, True,
     "An output does not follow the controller: motor power, buzzer or a lamp.",
     "It left the sun if it could, warning by sound or lamp alone.",
     "Keep hands off and stand behind the dish; look for a short circuit, or change the board."),
    ("watchdog", 0, 0, BAR, False,
     "The watchdog was not seen to work.", "It will not come to the sun.",
     "Switch off and on; if it comes back, change the board."),
    ("reference", 60, 60, LEAVE, False,
     "The light converter misreads its own supply.", "It left the sun, or stays parked.",
     "Look at the converter, its wires and the 3.3 V supply."),
    # Only drives that tell their motion by pulses can show it.
    ("drive_fault", 0, 0, LOCK, STAYS,
     "A drive did not turn as it was driven, or turned by itself.",
     "It leaves the sun if it can; if not, the light stays on the pot and it sounds.",
     "Cover the dish; look for what holds it, at its pulse sensor and its wires; then press LEAVE."),
    ("place_doubt", 0, 0, LEAVE, True,
     "Light or home flags say that the dish does not stand where its motors should have turned it.",
     "It left the sun as well as it could, and looked for its home flags if no sun sensor bore it out.",
     "Stand behind the dish. Cover it; look at motors, couplings, flags, tube; then clear the fault."),
    # Around the dish
    ("wind", 3, "interlock_wind_calm_s", LEAVE, False,
     "Gusts were too strong.", "It left the sun for its resting place, facing up as far as the sun allows.",
     "Tie the dish down, and cover it by day."),
    ("wind_sensor", 30, 10, LEAVE, False,
     "The anemometer's counter is silent.", "It left the sun.",
     "Look at its wires; without one, set sensor.wind_hz_per_m_s to 0."),
    ("base_moved", 5, 5, LEAVE, True,
     "The base leans otherwise than when north was set.", "It left the sun.",
     "Look at its feet, level it, set north again, then clear the fault."),
    ("base_sensor", 30, 10, BAR, False,
     "The accelerometer of the base is silent.", "It will not come to the sun.",
     "Look at its wires; without one, set sensor.base_tilt to false."),
    ("supply_low", 5, 120, LEAVE, False,
     "The supply is low.", "It left the sun while there was enough for that.", "Charge the battery."),
    ("board_hot", 10, 300, LEAVE, False,
     "The controller's board is too hot.", "It left the sun.", "Shade the box and let air to it."),
    ("brown_outs", 0, 0, BAR, False,
     "The supply failed again and again.", "It rests until the supply has held for half a minute.",
     "Charge the battery, look at its clamps; if the light is on anything, turn the dish off by hand."),
    # Clock, base and sun against each other
    ("sun_disagrees", 0, 5, LEAVE, STAYS,
     "The sun stands elsewhere, as seen from the dish, than clock, base and motors say.",
     "It left the sun by where it sees the sun, and looked for its home flags.",
     "Set the clock, look whether base or an axis was moved, set north again; then clear the fault."),
    ("sun_unseen", 60, 5, LEAVE, False,
     "The sun shines on the pot, and the sun sensor has not agreed with clock and base today.",
     "It left the sun.",
     "Set north by the shadow sight; look at the sun sensor."),
    ("sun_sensor", 30, 10, BAR, False,
     "The sun sensor is silent, stands still, or the tube speaks against it.", "It will not come to the sun.",
     "Wipe it, look at its wires; without one, set sensor.sun to false and sensor.supply_ratio to 0."),
    # Where the axes are
    ("drive_stalled", 1, 5, LEAVE, STAYS,
     "An axis did not turn when driven.", "It leaves the sun with what still turns, then looks for home.",
     "Stand behind the dish; turn it off the sun by hand or cover it. Look at motor, gear and wires."),
    ("drive_backwards", 0.5, 5, LOCK, STAYS,
     "An axis turned the wrong way.",
     "It leaves the sun if it can, then stands with its motors without power.",
     "Stand behind the dish; turn it off the sun by hand or cover it. Look at the motor's wires."),
    ("drive_runaway", 1, 5, LOCK, STAYS,
     "An axis turned by itself.",
     "It leaves the sun if it can, then stands with its motors without power.",
     "Stand behind the dish; turn it off the sun by hand or cover it. Look at the motor's driver."),
    ("position_off", 2, 5, LEAVE, True,
     "An axis is not where its count says.",
     "It leaves the sun by the encoder, or by the count if the sun bears it out.",
     "Look at gear, clutch and encoder, then clear the fault."),
    ("position_sensor", 10, 10, BAR, False,
     "An encoder of the axes is silent.", "It will not come to the sun.",
     "Look at its wires and magnet; without one, set its sensor. value to false."),
    # Light sensors and panel
    ("light_short", 30, 30, LEAVE, False,
     "A light sensor tells more than the sun can give.", "It left the sun.",
     "Look at the sensor and its wires."),
    ("light_stuck", "interlock_light_stuck_s", 30, LEAVE, False,
     "A light sensor tells the very same all the time.", "It left the sun.",
     "Look at the sensor and its wires."),
    ("open_cell", 60, 60, TELL, False,
     "The open cell sees no light while the tube sees the sun.", "Nothing.",
     "Look at the open cell and its wires: after a cloud it will not come back without it."),
    ("knob_noisy", 0, 30, LOWER, False,
     "The heat knob jumps about.", "It holds the heat at the least and does not heed the knob.",
     "Look at the knob and its wires; ask for heat over the link meanwhile."),
    ("button_stuck", 0, 5, BAR, False,
     "A button is held down all the time.", "It does not count as a cook being there, and bars the sun.",
     "Free the button, or mend its switch."),
    # Only where the season is set by hand. It holds the lag whatever the season: hour angle alone guards.
    ("season_due", 0, 0, TELL, False,
     "The season wants setting: the hand axis is off the sun by more than its band.", "Nothing.",
     "Park and cover the dish, turn the hand axis to the angle told, confirm it: sunhob dish set season."),
    ("season_off", 0, 0, LEAVE, False,
     "The season was never set, or is a day's run past its band.", "It left the sun, or stays parked.",
     "Cover the dish, turn the hand axis to the angle told, and confirm it: sunhob dish set season."),
)

# Rows after which the count of the axes is not to be believed: it leaves by it, then looks for home.
PLACE_DOUBT = ("drive_stalled", "drive_backwards", "drive_runaway", "position_off")

# Latched rows that a host may clear for a cook who is at the dish: their cause is seen as well from afar. All
# others are cleared at the dish alone, by whoever has looked: CONFIRM held for three seconds.
FROM_AFAR = ("clock_jumped", "clock_rate", "loop_late", "copy_bad")

INDEX = {}
for _i in range(len(ROWS)):
    INDEX[ROWS[_i][0]] = _i
