"""The wiring tables of every board, made from its own pins. Units in the words: V, Ohm, m, baud."""

from __future__ import annotations

from .added import LIGHT_WIRING
from .boards import FIRMWARE, BoardPins, addresses, boards, constants, levels
from .pulse_drives import knob_wiring, pulse_wiring

# what a pin carries: (group, where the wire goes, what to mind)
PARTS = {
    "uart_tx": ("Link", "RX of the serial adapter", "3.3 V only; {baud} baud"),
    "uart_rx": ("Link", "TX of the serial adapter", "3.3 V only; {baud} baud"),
    "step1": ("Drives", "STEP of the driver of axis 1", "twisted with its return; each pulse is one step"),
    "dir1": ("Drives", "DIR of the driver of axis 1", "stands before the first pulse"),
    "step2": ("Drives", "STEP of the driver of axis 2", "twisted with its return; each pulse is one step"),
    "dir2": ("Drives", "DIR of the driver of axis 2", "stands before the first pulse"),
    "motor_enable": (
        "Drives",
        "transistor of the motor relay's coil",
        "high: motor power on, if the stop "
        "chain is whole; 10 kOhm to ground, so that a board in reset means off",
    ),
    "buzzer": ("Panel", "buzzer, by a transistor", "high: sounds; loud enough for the whole swing"),
    "lamp_hands_in": ("Panel", "lamp HANDS IN, by a transistor", "high: lit; green, beside the pot"),
    "lamp_armed": ("Panel", "lamp ARMED, by a transistor", "high: lit; amber"),
    "lamp_fault": ("Panel", "lamp FAULT, by a transistor", "high: lit; red; flashes with every warning"),
    "leave": ("Panel", "button LEAVE", "the largest of all; reached from behind the dish"),
    "aside": ("Panel", "button ASIDE", ""),
    "arm": ("Panel", "button ARM", "with a collar, so that nobody leans on it"),
    "confirm": ("Panel", "button CONFIRM", ""),
    "stop_chain": (
        "Safety",
        "second contact of the stop chain, fed from 3.3 V by 1 kOhm",
        "a cut wire reads as open",
    ),
    "pot": ("Safety", "switch under the pot ring", "closed while the pot stands there"),
    "home1": ("Axes", "home switch of axis 1", "closed at and below its home angle"),
    "home2": ("Axes", "home switch of axis 2", "closed at and below its home angle"),
    "i2c_sda": (
        "Bus",
        "SDA of clock chip, light converter and what else is on the bus",
        "2.2 kOhm to 3.3 V; under 1 m in all",
    ),
    "i2c_scl": ("Bus", "SCL of the same", "2.2 kOhm to 3.3 V"),
    "spi_miso": (
        "Probes",
        "data out of both thermocouple converters",
        "under 0.3 m: the converters sit by the board, thermocouple wire runs to the pot",
    ),
    "spi_sck": ("Probes", "clock of both thermocouple converters", ""),
    "select_contents": ("Probes", "select of the converter of the probe in the food", ""),
    "select_underside": (
        "Probes",
        "select of the converter of the probe under the pot",
        "also serves the bus as its unused data line",
    ),
    "pulse1": ("Drives", "first pulse line of motors or actuators, where they drive",
               "closes to ground; see above"),
    "pulse2": ("Drives", "second pulse line", "closes to ground; see above"),
    "expander_int": ("Bus", "INTA of the port expander", "tells a pressed key at once"),
    "adc_knob": (
        "Panel",
        "slider of the heat knob, 10 kOhm between 3.3 V and analogue ground",
        "100 nF from slider to ground at the board",
    ),
}
GROUPS = ("Drives", "Safety", "Axes", "Panel", "Probes", "Bus", "Link")
BUS_PARTS = {  # driver file: what it is to the builder
    "rtc_ds3232": "clock chip with battery RAM (registers of the DS3232); its own coin cell",
    "light_ads1115": "four-channel converter of the light sensors (ADS1115): 0 tube sensor, 1 open cell, "
    "3 the 3.3 V rail (a known voltage)",
    "expander_mcp23017": "port expander of slow keys and lamps (registers of the MCP23017), A0 to A2 to "
    "ground; ESP32 alone",
    "accel_lis3dh base": "accelerometer level on the base (registers of the LIS3DH), where one is fitted",
    "accel_lis3dh dish": "accelerometer on the dish, for its elevation (LIS3DH), where one is fitted",
    "encoder_as5600": "magnetic encoder of axis 1 (registers of the AS5600), where one is fitted",
    "sun_ads1115": "converter of the sun-direction photodiodes (ADS1115): 0 pair right-left, "
    "1 pair up-down, 2 diode along the dish axis, 3 supply through a divider; where one is fitted",
    "oled_ssd1306": "display of 128 x 64 dots with the cook's page (SSD1306), where one is fitted: "
    "cook.display",
    "spare_probes air": "probe of the air in the shade (TMP102, its address pin to SDA), where one is fitted",
    "spare_probes pot": "thermocouple converters of pots on other cookers (MCP9600), one address each "
    "from there on, where one is fitted",
    "wind_pcf8583": "counter of the anemometer's pulses (PCF8583), where one is fitted",
}
# Pins of the board's edge by GPIO number: pinout of the Pico and Pico 2 (data sheet of the board, section 2).
EDGE = dict(enumerate((1, 2, 4, 5, 6, 7, 9, 10, 11, 12, 14, 15, 16, 17, 19, 20, 21, 22, 24, 25, 26, 27, 29)))
EDGE.update({26: 31, 27: 32, 28: 34})
EDGE_BOARDS = ("pico", "pico2")
_PICO_REMARK = """

5 V goes to pin 39 **by a Schottky diode of 1 A**, its ring to the pin: the USB plug feeds that pin as
well, and the two must not feed each other (data sheet of the board, section on powering it)."""
REMARKS = {
    "pico": _PICO_REMARK,
    "pico2": _PICO_REMARK,
    "esp32": """

5 V goes to the module's 5 V pin; where the module has no diode between that pin and its USB plug, put a
Schottky diode of 1 A there, or never have both. GPA and GPB are lines of the port expander. Its RESET
goes to the module's EN, so that both start anew together; keys on long wires want 4.7 kOhm to 3.3 V
beside the expander's own 100 kOhm. The heat knob is on input 2 of the light converter. Modules with PSRAM
keep GPIO 16 and 17 for it: those have the link through USB alone, and one pulse line. Opening the USB
port restarts some modules: a dish on the sun then leaves it. LEAVE, the stop chain, the buzzer and motor
power do not hang on the expander; if it falls silent, the pot reads as missing.""",
}
UNKNOWN = "not described: add a row to host/sunhob/notes/wiring.py"

HEAD = """# Wiring

This page is made from the board files by `make notes`. Do not edit it.

**Before you touch a wire:** motor power off, stop chain open, mirror covered. Battery leads can start a
fire: put the fuse in last. Work on mains belongs to a licensed person; nothing here needs mains.

- All pins are 3.3 V. More than 3.6 V on any of them destroys the board. **Before a wire goes to a pin,
  measure what comes on it.**
- Every chip and sensor below is fed from the board's 3.3 V, not from 5 V: a module that is fed 5 V pulls the
  bus up to 5 V. All of them together take under 0.1 A. What needs 5 V or more for itself (some Hall sensors)
  must have an open output without a resistor of its own to that supply; it is pulled up to 3.3 V alone.
- 100 nF from 3.3 V to ground at every chip.
- The stop chain cuts motor power by its own contacts. The board only watches it.
- Wires to the switches are twisted with their return to ground. Screen or keep apart from the motor wires by
  0.1 m at least; see [power and noise](power.md).
- The inputs' own pull-ups are weak. Where a wire to a key, a switch or a flag is over 2 m, or runs beside
  motor wires: 4.7 kOhm from the pin to 3.3 V, 1 kOhm in series and 100 nF to ground at the board.
"""

# Common practice, no source.
OUTPUTS_WIRING = """## Relay, buzzer, lamps, drivers

Common practice, no source. A pin gives 4 mA and no more: each of these wants a transistor (or a driver whose
inputs take 3.3 V).

- **Relay's coil, buzzer, each lamp**: n-channel transistor, source to ground, drain to the load, the load's
  other end to its plus. Gate by 100 Ohm to the pin, and 10 kOhm from gate to ground, so that it is off while
  the board starts. A lamp of bare diodes wants its resistor.
- **Plus of the coil**: motor power *behind* the stop chain, so that the chain drops the relay as well. A
  diode lies across the coil, its ring (cathode) to plus; the same across a buzzer with a coil.
- **Plus of buzzer and lamps**: *before* the stop chain, by a fuse of 2 A: they must speak while the chain
  is open.
- **Stop chain**: every button has two opening contacts. The first ones lie in a row in the plus of motor
  power. The second ones lie in a row from 3.3 V, by 1 kOhm, to the pin.
- **Step driver**: inputs that take 3.3 V at a few mA. Where they are made for 5 V, put a logic buffer
  between that is fed 5 V and takes 3.3 V for high (of the kinds HCT or AHCT). Its ENABLE is wired to
  "on": the relay switches it. Current and steps are set at the driver, with its power off. 100 uF, of
  twice the battery's voltage, at its motor supply. **Never plug or pull a motor while its driver has
  power: that destroys the driver.**
"""


def wiring_page() -> str:
    """The whole page."""
    baud = constants(FIRMWARE / "boards" / "common.py")["BAUD"]
    parts = [HEAD, OUTPUTS_WIRING, _bus(), LIGHT_WIRING, pulse_wiring(boards()), knob_wiring(boards())]
    parts += [_board(one, baud) for one in boards()]
    return "\n".join(parts)


# Rise time 300 ns at 400 kHz (I2C-bus specification UM10204, section 7.1: R = 300 ns / (0.85 * C)) with
# 160 pF for a metre of wire and eight chips; and not under 3.3 V / 3 mA.
_BUS_FOOT = """

No two have the same address. The bus runs at 400 kHz, and at 100 kHz where an anemometer or probes of
other cookers are fitted: their chips bear no more, and the others take any. One resistor of 2.2 kOhm from
each of the two lines to 3.3 V *in all*: take off those that modules bring along (together never under 1
kOhm).
"""


def _bus() -> str:
    rows = ["## On the I2C bus\n", "| address | part |", "|---|---|"]
    for name, at in sorted(addresses().items(), key=lambda pair: pair[1]):
        rows.append(
            f"| 0x{at:02X} | {BUS_PARTS.get(name, name.replace('_', ' ') + ' (as its driver names it)')} |"
        )
    return "\n".join(rows) + _BUS_FOOT


def _board(one: BoardPins, baud: int) -> str:
    edge = one.name in EDGE_BOARDS
    head = "| signal | GPIO | " + ("pin at the edge | " if edge else "") + "goes to | mind |"
    picture = f"![Overview of the wiring](wiring_{one.name}.svg)\n"
    rows = [f"## {one.title}\n", picture, head, "|---" * head.count(" | ") + "|---|"]
    high = levels()
    for name in sorted((*one.pins, *one.expander), key=place):
        _g, goes, mind = PARTS.get(name, ("", UNKNOWN, ""))
        words = [mind.format(baud=f"{baud:,}".replace(",", " "))] if mind else []
        if name in high:
            words.append("healthy: fed" if high[name] else "closes to ground")
        if name in one.outside:
            words.append(f"**outside the chip: {one.outside[name]}**")
        at = f"{EDGE[one.pins[name]]} | " if edge else ""
        rows.append(f"| `{name}` | {one.where(name)} | {at}{goes} | {'; '.join(words)} |")
    if edge:
        rows.append(
            "\nGround is at pins 3, 8, 13, 18, 23, 28, 38; analogue ground 33; 3.3 V out 36; 5 V in 39."
        )
    return "\n".join(rows) + REMARKS.get(one.name, "") + "\n"


def place(name: str) -> tuple[int, int]:
    """Where a signal stands in table and drawing: by its group, then in the order of PARTS."""
    group, order = PARTS.get(name, ("",))[0], list(PARTS)
    return (GROUPS.index(group) if group in GROUPS else len(GROUPS),
            order.index(name) if name in order else len(order))
