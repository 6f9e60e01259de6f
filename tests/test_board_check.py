"""`sunhob board check` on pin tables that clash. Numbers are GPIO numbers."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sunhob import cli
from sunhob.board import pins

PICO = pins.board_table("pico")


def changed(monkeypatch, **change):
    """Have the file of the Pico say otherwise."""
    real = pins.board_table

    def told(name, table="PINS"):
        found = real(name, table)
        return {**found, **change} if (name, table) == ("pico", "PINS") else found

    monkeypatch.setattr(pins, "board_table", told)


def test_tables_as_they_are_shipped_are_good(capsys):
    assert cli.run(["board", "check", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["good"] and not any(found["pins"].values()) and {"pico", "pico2"} <= set(found["pins"])


def test_every_clash_is_told_at_once_each_in_one_line(monkeypatch, capsys):
    changed(monkeypatch, buzzer=PICO["step1"], lamp_fault=25)
    assert cli.run(["board", "check", "--board", "pico"]) == 1
    told = capsys.readouterr()
    assert told.out.startswith("pins of pico: bad\n")
    lines = told.err.strip().splitlines()
    assert len(lines) == 2
    assert any(f"buzzer = GPIO {PICO['step1']}: carries step1 already" in line for line in lines)
    assert any("lamp_fault = GPIO 25: not on the edge" in line for line in lines)


def test_json_tells_the_faults_of_each_board(monkeypatch, capsys):
    changed(monkeypatch, adc_knob=2)
    assert cli.run(["board", "check", "--json"]) == 1
    found = json.loads(capsys.readouterr().out)
    assert not found["good"] and found["pins"]["pico2"] == []
    assert any("cannot be the converter" in fault for fault in found["pins"]["pico"])


@given(st.sampled_from(sorted(PICO)), st.sampled_from(sorted(PICO)))
def test_two_signals_on_one_pin_are_always_found(one, other):
    faults = pins.pin_faults("pico", {**PICO, other: PICO[one]})
    clash = [fault for fault in faults if "already" in fault]
    assert len(clash) == (one != other)
    assert all(one in fault and other in fault for fault in clash)


@pytest.mark.parametrize("pin", [-1, 23, 24, 25, 29, 30, 99])
def test_a_pin_that_is_not_on_the_boards_edge_is_refused(pin):
    assert any("not on the edge" in fault for fault in pins.pin_faults("pico", {**PICO, "leave": pin}))


def test_a_board_that_there_is_none_of_is_told(capsys):
    assert cli.run(["board", "check", "--board", "abacus"]) == 2
    err = capsys.readouterr().err
    assert "--board abacus: is none; give one of" in err and err.count("\n") == 1


def test_a_live_board_tells_its_versions_and_the_room_it_has(capsys):
    assert cli.run(["board", "check", "--port", "bench:short@05:01", "--json"]) == 1
    heard = capsys.readouterr()
    told = json.loads(heard.out)["told"]
    assert told["board"] == "pico" and told["firmware"] and told["micropython"].count(".") == 2
    assert 0 < told["flash_free"] < 2 * 1024 * 1024
    assert "its clock is" in heard.err, "the scenario's day is not today"


def test_what_is_tripped_is_told_with_its_mend(capsys):
    assert cli.run(["board", "check", "--port", "bench:chain@05:17"]) == 1
    said = capsys.readouterr().err
    assert "interlock stop_chain is tripped: The stop chain was opened. Stand behind the dish" in said
