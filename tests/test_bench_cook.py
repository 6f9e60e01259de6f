"""The scripted cook: buttons, knob, chain and pot at their times, link lines that hold, north by nudging."""

import json
import math

import pytest
from sunhob_board.core import panel as keys
from sunhob_board.link import frame
from sunhob_sim import scenario as sc
from sunhob_sim.cook import Cook

_HEAD = 'name = "a"\nstart = 2026-03-12T05:00:00Z\nhours = 1\n'


def _cook(deeds, sight=lambda: (0.0, 0.0)):
    text = _HEAD + "".join(f"[[action]]\nat = '{at}'\n{rest}\n" for at, rest in deeds)
    sent = []
    return Cook(sc.parse(text), sent.append, sight, (4.0, 3.0)), sent


def _body(line):
    return json.loads(frame.decode(line.strip(b"\n")))


def test_a_button_is_down_for_its_time_only():
    cook, _ = _cook([("05:01", "do = 'arm'\nhold_s = 2.0")])
    cook.step(59.0)
    assert not cook.mask & keys.ARM
    cook.step(60.0)
    assert cook.mask & keys.ARM
    assert cook.next_s == 62.0
    cook.step(62.0)
    assert not cook.mask & keys.ARM
    assert cook.next_s == math.inf


def test_chain_pot_and_knob():
    cook, _ = _cook([("05:01", "do = 'pot_lift'"), ("05:02", "do = 'chain_open'"),
                     ("05:03", "do = 'knob'\nvalue = 60"), ("05:04", "do = 'pot_set'"),
                     ("05:05", "do = 'chain_close'")])
    assert cook.mask == keys.POT | keys.CHAIN
    cook.step(130.0)
    assert cook.mask == 0
    cook.step(600.0)
    assert cook.mask == keys.POT | keys.CHAIN
    assert cook.knob_percent == 60
    assert len(cook.done) == 5


def test_the_clock_line_carries_the_board_s_day_and_ms():
    cook, sent = _cook([("05:00:30", "do = 'clock'")])
    cook.step(30.0)
    assert _body(sent[0])["params"] == {"what": "time", "day": 9567, "ms": 18_030_000}
    assert sent[0].startswith(b"\n")  # half a line that a fault left there ends with it


@pytest.mark.parametrize("start", [(80.0, 30.0), (-0.5, 0.4), (0.0, 0.0)])
def test_north_is_nudged_onto_the_sun_then_set_then_left(start):
    off = list(start)

    def push():
        for line in sent[seen[0]:]:
            ask = _body(line)
            if ask["method"] == "nudge":
                p = ask["params"]
                assert p["covered"] is True and 20 <= p["hold_ms"] <= 1000
                if seen[0]:  # the first one only begins the warning
                    rate = p["rate_percent"] / 100
                    off[p["axis"] - 1] -= 2.0 * rate * abs(rate) * (p["hold_ms"] / 1000) ** 2
        seen[0] = len(sent)

    seen = [0]
    cook, sent = _cook([("05:00:30", "do = 'north'")], lambda: tuple(off))
    while cook.next_s < math.inf:
        cook.step(cook.next_s)
        push()
    assert _body(sent[-1])["params"] == {"what": "north"}
    assert abs(off[0]) <= 0.02 and abs(off[1]) <= 0.05
    assert not cook.covered and not cook.mask & keys.LEAVE
