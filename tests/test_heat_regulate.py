"""Holding a pot temperature, on an invented pot of two nodes. Units: degC, kg, W/K, W/m2, s, permille."""

import csv
from pathlib import Path

import pytest
from sunhob_board.core.settings import defaults, pressure_pa
from sunhob_board.heat.boil import boil_mc

from .two_node_pot import held

BOILING = Path(__file__).with_name("data") / "water_boiling.csv"


@pytest.mark.parametrize("row", list(csv.DictReader(BOILING.read_text().splitlines())), ids=str)
def test_boiling_point_follows_the_altitude(row):
    """IAPWS-IF97 saturation at the pressure of the standard atmosphere (iapws 1.5.5)."""
    assert boil_mc(float(row["pressure_pa"])) / 1000 == pytest.approx(float(row["boiling_degc"]), abs=0.08)
    assert pressure_pa(float(row["altitude_m"])) == pytest.approx(float(row["pressure_pa"]), rel=3e-4)


@pytest.mark.parametrize(("kg", "loss_w_k", "lid", "dni"), [
    (2.0, 2.0, True, 1000), (2.0, 4.0, False, 750), (5.0, 3.0, True, 900), (8.0, 2.0, True, 400),
    (8.0, 8.0, False, 1000), (10.0, 4.0, True, 700),
])
def test_cold_pot_is_brought_and_held(kg, loss_w_k, lid, dni):
    got = held(defaults(), kg, loss_w_k, lid, dni, hours=4.0 if kg < 8 else 5.0)
    assert got.reached_s is not None
    assert got.peak_k <= 3.0
    assert got.in_band >= 0.95
    assert got.most_moves_in_an_hour <= 40
