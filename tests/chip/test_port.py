"""The emulated chip's USB serial under the host library. Units: emulated s.

No image is wanted: the USB controller is driven by a device of plain Python, the console behind it is real
MicroPython on the bench's desk board.
"""

import pytest
from sunhob.board import install as installer
from sunhob.board import reach
from sunhob.errors import LinkError
from sunhob.link import Dish, encode
from sunhob_sim.console_board import ConsoleBoard

from ..test_board_install import tiny
from .emulator import Chip
from .port import READ_S, Desk
from .uf2 import Part
from .usb_device import IDLE_PROGRAM, UsbDevice

_ASK_NS = 2_000_000


@pytest.fixture
def chip():
    return Chip([Part(0, IDLE_PROGRAM)])


class Echo:
    def __init__(self, chip):
        self.usb = UsbDevice(chip, lambda data: self.usb.say(data))
        self.usb.start()


def read_all(port, count):
    got = b""
    while len(got) < count:
        more = port.read(4096)
        assert more, f"only {len(got)} of {count} bytes came"
        got += more
    return got


def test_what_goes_out_comes_back_whole_over_many_packets(chip):
    Echo(chip)
    port = Desk(chip).open()
    sent = bytes(range(256)) * 40
    assert port.write(sent) == len(sent)
    assert read_all(port, len(sent)) == sent
    assert port.in_waiting == 0


def test_a_read_of_nothing_takes_the_ports_time_and_no_more(chip):
    Echo(chip)
    port = Desk(chip).open()
    began = chip.seconds
    assert port.read(10) == b""
    assert chip.seconds - began == pytest.approx(READ_S, abs=1e-3)


def test_a_host_with_nothing_to_send_answers_nothing(chip):
    """The stock emulator answers an endpoint that waits with an empty packet each time."""
    heard = []
    usb = UsbDevice(chip, heard.append)
    usb.start()
    port = Desk(chip).open()
    chip.run(0.5)
    assert heard == []
    port.write(b"x")
    chip.run(0.01)
    assert heard == [b"x"]


def test_a_chip_that_never_comes_onto_the_bus_is_told(chip):
    with pytest.raises(LinkError, match="does not come onto the bus"):
        Desk(chip).open()


def test_a_restart_ends_the_port_and_the_next_one_works(chip):
    echo = Echo(chip)
    desk = Desk(chip)
    port = desk.open()
    chip._bitten()
    with pytest.raises(OSError, match="gone"):
        port.read()
    with pytest.raises(OSError, match="gone"):
        port.write(b"lost")
    echo.usb.start()
    port = desk.open()
    port.write(b"again")
    assert read_all(port, 5) == b"again"


def test_the_link_waits_by_the_chips_time(chip, monkeypatch):
    desk = Desk(chip)
    desk.keep_time(monkeypatch)
    UsbDevice(chip, lambda data: None).start()
    dish = Dish("chip", wire=desk.open())
    began = chip.seconds
    with pytest.raises(LinkError, match="no answer to hello within 4 s"):
        dish.hello()
    assert 4.0 <= chip.seconds - began < 4.2


def test_an_answer_in_pieces_and_with_noise_between_is_put_together(chip, monkeypatch):
    desk = Desk(chip)
    desk.keep_time(monkeypatch)

    def answer(data):
        if b'"hello"' in data:
            reply = encode({"jsonrpc": "2.0", "id": dish._id, "result": {"board": "x" * 200}})
            usb.say(b"boot noise\r\n" + reply[:70])
            usb.say(reply[70:])

    usb = UsbDevice(chip, answer)
    usb.start()
    dish = Dish("chip", wire=desk.open())
    assert dish.hello()["board"] == "x" * 200 and dish.bad_lines == 1


class DeskBoard:
    """The bench's desk board behind the emulated chip's USB; a restart there is one of the chip."""

    def __init__(self, chip, board):
        self.chip, self.board = chip, board
        self.usb = UsbDevice(chip, board.write)
        self._alarm = chip.clock.create_alarm(self._ask)
        self._start()

    def _start(self):
        self.board.run_for(0.0)
        self.starts = self.board.starts
        self.usb.start()
        self._alarm.schedule(_ASK_NS)

    def _ask(self):
        if self.board.starts != self.starts:  # seen the last time: what it said before has gone by now
            self.chip._bitten()
            self._start()
            return
        self.usb.say(self.board.read(4096))  # waits a little, in wall time, as the board needs some
        self.board.run_for(0.0)
        self._alarm.schedule(_ASK_NS)


def test_the_installer_works_through_the_emulated_usb(chip, tmp_path, monkeypatch):
    monkeypatch.setattr(reach, "HEARD_S", 0.1)  # nobody answers on the bare board
    desk = Desk(chip)
    desk.keep_time(monkeypatch)
    board = ConsoleBoard(tmp_path)
    try:
        DeskBoard(chip, board)
        done = installer.Install("chip", desk.open).run(lambda kind: tiny("over USB"))
        assert done["sent"] == 2 and done["hello"]["mark"] == "over USB" and done["hello"]["proven"]
        monkeypatch.setattr(reach, "HEARD_S", 10.0)  # a busy machine needs its time: no wait of a chip
        again = installer.Install("chip", desk.open).run(lambda kind: tiny("over USB"))
        assert (again["sent"], again["tried"]) == (0, False)
        with Dish("chip", wire=desk.open()) as dish:
            assert dish.hello(10.0)["mark"] == "over USB"
    finally:
        board.off()
