"""The sensors and the display that may be added: what each gives, its rating and place. Units in the words.

Addresses are those of the drivers. Circuits: common practice, no source.
"""

from __future__ import annotations

from .boards import addresses

# part, its rating, driver whose converter or chip it is, setting that says it is there, what it finds
ADDED = (
    (
        "sun-direction sensor",
        "5 photodiodes of one batch with flat windows on a block at the dish's rim, clear of mirror, cover "
        "and shade: two pairs that lean 30 deg from the dish axis, right against left and up against down, "
        "trimmed to 1 %, and one that looks along it; a converter of 16 bits (registers of the ADS1115)",
        "sun_ads1115", "sensor.sun",
        "an axis that stalls, slips, turns the wrong way or by itself, a base knocked round or tipped, a "
        "wrong clock or north: 0.5 to 0.7 deg off on the sun, 2 to 4 deg off elsewhere, within seconds",
    ),
    (
        "supply divider",
        "two resistors of 1 %, 47 kOhm over 10 kOhm for 12 V (5.7 to 1), 100 nF beside the lower one",
        "sun_ads1115", "sensor.supply_ratio", "a low battery, while there is charge for one leave",
    ),
    (
        "anemometer",
        "cups with a contact or Hall switch, bearings for outdoors; a counter chip (registers of the "
        "PCF8583)",
        "wind_pcf8583", "sensor.wind_hz_per_m_s", "gusts",
    ),
    (
        "tilt of the base",
        "accelerometer (registers of the LIS3DH), its z upright, its x to the base's east",
        "accel_lis3dh base", "sensor.base_tilt", "a base that was moved or sinks since north was set",
    ),
    (
        "encoder of axis 1",
        "magnetic encoder (registers of the AS5600), its magnet on the very axis within 0.5 mm",
        "encoder_as5600", "sensor.axis1_encoder", "an axis that slips, stalls or runs away, in a second",
    ),
    (
        "tilt of the dish",
        "accelerometer (registers of the LIS3DH) on the dish, its x along the dish axis, z up from it; altaz "
        "mounts only",
        "accel_lis3dh dish", "sensor.axis2_tilt", "the same for axis 2",
    ),
    (
        "display",
        "128 x 64 dots that shine by themselves (registers of the SSD1306), behind a window, in the "
        "shade, not seen "
        "from within the beam",
        "oled_ssd1306", "cook.display",
        "nothing; tells heat, temperatures, what it does and why it left, in words",
    ),
    (
        "probe of the air",
        "temperature chip (registers of the TMP102) in the shade, aired, away from the dish",
        "spare_probes air", "sensor.air", "nothing; tells the air's temperature for the log",
    ),
    (
        "probes of other cookers",
        "up to 4 thermocouples of type K, a converter each (registers of the MCP9600)",
        "spare_probes pot", "sensor.spare_probes", "nothing; tells those pots' temperatures for the log",
    ),
)

_HEAD = """
## Sensors and display that may be added

None of them is needed to cook. Each finds a fault that is found late, or never, without it. The sun-direction
sensor belongs to every dish: only with it is a drive or base that fails seen before the light leaves the pot.
The others are off until their setting says that they are there. All hang on the I2C bus.
[Where they sit](sensors.svg).

| part | rating | address | setting | what it finds |
|---|---|---|---|---|
"""


def added_parts() -> str:
    """The table for the bill of parts."""
    at = addresses()
    rows = [f"| {part} | {rating} | 0x{at[driver]:02X} | `{setting}` | {finds} |"
            for part, rating, driver, setting, finds in ADDED]
    return _HEAD + "\n".join(rows) + "\n"


# Resistors: 1 / I scales the diode so that 1500 W/m2 give 3.3 V, or half of it each way for a pair.
LIGHT_WIRING = """## Light, supply and wind

Common practice, no source. *I* is the current of a photodiode in 1000 W/m2. Try each in the sun: no reading
may come above 3.2 V.

- **Tube sensor, open cell**: cathode to 3.3 V, anode to the input; from the input 2.2 V / *I* and, beside
  it, 100 nF to ground. That is 3.3 V where `sensor.beam_w_m2_full` and `sensor.open_w_m2_full` are 1500.
- **Pair of the sun-direction sensor**: cathode of the right (upper) diode to 3.3 V, anode of the left
  (lower) diode to ground. Their other ends go together to the input, and over 1.1 V / *I* to half of 3.3 V
  (two resistors of 1 kOhm). The input rises with a sun to the right (above), as one looks out along the
  dish. The diode along the dish axis is wired as the open cell.
- **Supply**: 47 kOhm from behind the main fuse to input 3 of the second converter; 10 kOhm and 100 nF from
  there to ground; `sensor.supply_ratio` is 5.7. A fuse of 0.5 A where it is tapped.
- **Anemometer**: its contact between the counter's input (OSCI) and ground; 10 kOhm to 3.3 V, 100 nF to
  ground.
- **Address pins**: first converter to ground (0x48), second to 3.3 V (0x49), accelerometer of the dish to
  3.3 V (0x19), of the base to ground (0x18), counter to ground (0x50), display's D/C to ground (0x3C),
  converter of the first other cooker to ground (0x60), the next ones by the divider of its data sheet.
- **Pins that must not float**: CS of the accelerometers to 3.3 V. DIR of the encoder to ground where its
  chip looks up, to 3.3 V where it looks down: its angle must grow as axis 1 turns to plus. RESET of the
  display to 3.3 V, or by 10 kOhm to 3.3 V and 100 nF to ground.
- **Thermocouples**: the junction is insulated from its sheath (a grounded one is told as a short
  circuit). 10 nF across the two wires at the converter. Their wire and plug are of type K all the way.
- A chip outside the box: bus wires under 1 m in all, twisted with ground, 100 nF at the chip.
"""
