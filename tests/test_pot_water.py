"""Water and air of the pot against reference libraries and published tables. Units: deg C, kJ, Pa."""

import csv
from pathlib import Path

import pytest
from CoolProp.CoolProp import PropsSI
from sunhob_sim import foods, heat_loss, water

# Boiling point, specific and latent heat over altitude: IAPWS-IF97, IAPWS-95 and CoolProp side by side,
# in the standard atmosphere (ISO 2533)
with (Path(__file__).parent / "data" / "water_altitude.csv").open(encoding="utf-8") as file:
    ALTITUDES = [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]


@pytest.mark.parametrize("row", ALTITUDES, ids=lambda row: f"{row['altitude_m']:.0f} m")
def test_boiling_over_altitude(row):
    pressure = water.air_pressure_pa(row["altitude_m"])
    assert pressure / 100.0 == pytest.approx(row["isa_pressure_hPa"], abs=0.01)
    boil = water.boiling_c(pressure)
    assert boil == pytest.approx(row["tsat_IF97_degC"], abs=0.002)
    assert boil == pytest.approx(row["tsat_CoolProp_degC"], abs=0.003)
    assert water.latent_j_kg(boil) / 1e3 == pytest.approx(row["latent_heat_kJ_per_kg"], abs=0.05)
    heat = (water.liquid_j_kg(boil) - water.liquid_j_kg(20.0)) / 1e3
    # the table keeps the liquid at its own saturation, the reference at air pressure: 0.1 kJ apart
    assert heat == pytest.approx(row["enthalpy_20C_to_boil_kJ_per_kg"], abs=0.15)


@pytest.mark.parametrize("temp_c", [5.0, 20.0, 37.5, 60.0, 80.0, 99.0, 120.0])
def test_water_against_another_library(temp_c):
    kelvin = temp_c + 273.15
    wet, dry = (PropsSI("H", "T", kelvin, "Q", q, "Water") for q in (0, 1))
    assert water.latent_j_kg(temp_c) == pytest.approx(dry - wet, rel=1e-4)
    assert water.vapour_pa(temp_c) == pytest.approx(PropsSI("P", "T", kelvin, "Q", 0, "Water"), rel=0.002)
    assert water.cp_j_kg_k(temp_c) == pytest.approx(PropsSI("C", "T", kelvin, "Q", 0, "Water"), rel=0.002)


@pytest.mark.parametrize("temp_c, cp", [(20.0, 4184.8), (60.0, 4182.8), (80.0, 4195.5)])
def test_specific_heat_at_normal_pressure(temp_c, cp):
    # IAPWS-95 at 1013.25 hPa
    assert water.cp_j_kg_k(temp_c) == pytest.approx(cp, rel=0.001)


@pytest.mark.parametrize("temp_c", [0.0, 30.0, 60.0, 120.0])
def test_air_against_a_library(temp_c):
    kelvin = temp_c + 273.15
    air = heat_loss.air_film(temp_c, 101325.0)
    density = PropsSI("D", "T", kelvin, "P", 101325, "Air")
    assert air.density == pytest.approx(density, rel=0.002)
    assert air.conductivity == pytest.approx(PropsSI("L", "T", kelvin, "P", 101325, "Air"), rel=0.015)
    assert air.viscosity == pytest.approx(PropsSI("V", "T", kelvin, "P", 101325, "Air") / density, rel=0.015)


def test_cylinder_across_the_wind():
    # Incropera & DeWitt, example 7.4 (from memory): 12.7 mm, Re 6071, Pr 0.70, Nu 40.6, h 96 W/(m2 K)
    nusselt = heat_loss.cylinder_nusselt(6071.0, 0.70)
    assert nusselt == pytest.approx(40.6, abs=0.05)
    assert nusselt * 0.030 / 0.0127 == pytest.approx(96.0, abs=0.3)


def test_wall_in_still_air():
    # Incropera & DeWitt, example 9.2 (from memory): glass 0.71 m high at 232 degC in air of 23 degC,
    # Ra 1.813e9, Pr 0.690, Nu 147, h 7.0 W/(m2 K)
    nusselt = heat_loss.wall_nusselt(1.813e9, 0.690)
    assert nusselt == pytest.approx(147.0, abs=1.0)
    air = heat_loss.air_film((232.0 + 23.0) / 2.0, 101325.0)
    assert heat_loss.rayleigh(air, 209.0, 0.71) == pytest.approx(1.813e9, rel=0.03)
    assert nusselt * air.conductivity / 0.71 == pytest.approx(7.0, abs=0.15)


def test_black_body_radiation():
    # Stefan's law: 1000 K to nothing, 56.7 kW/m2
    kelvin = 1000.0
    per_k = heat_loss.radiation_w_m2_k(1.0, kelvin - 273.15, -273.15)
    assert per_k * kelvin == pytest.approx(56703.7, rel=1e-4)


def test_water_over_a_hot_bottom_against_the_library():
    # Nu = 0.15 Ra^(1/3) is free of the length: h = 0.15 k (g b dT / (v a))^(1/3), water at 80 degC
    props = [PropsSI(name, "T", 353.15, "P", 101325, "Water")
             for name in ("L", "ISOBARIC_EXPANSION_COEFFICIENT", "V", "D", "C")]
    k, beta, viscosity, density, cp = props
    expected = 0.15 * k * (9.80665 * beta * 10.0 / (viscosity / density * k / density / cp)) ** (1 / 3)
    assert foods.thin_w_m2_k(10.0) == pytest.approx(expected, rel=0.05)


def test_vapour_near_the_wet_bulb_keeps_the_psychrometric_balance():
    # A wet bulb at rest takes from the air by convection what it gives as vapour: 30 degC, 40 % humidity,
    # wet bulb 20.1 degC (psychrometric chart, sea level, from memory, +-0.3)
    film = 25.0
    wet_c = min((c / 10.0 for c in range(150, 260)), key=lambda c: abs(
        film * (30.0 - c) - heat_loss.vapour_kg_m2_s(film, c, 30.0, 101325.0, 0.4) * water.latent_j_kg(c)))
    assert wet_c == pytest.approx(20.1, abs=0.8)


@pytest.mark.parametrize("temp_c", [40.0, 60.0, 80.0, 94.0])
def test_evaporation_into_still_air(temp_c):
    # Shah, HVAC&R Research 8 (2002) 125, on 11 sources from 7 to 94 degC, mean deviation 18 % (formula from
    # memory): E = 35 rho_w (rho_r - rho_w)^(1/3) (W_w - W_r) kg/(m2 h), dry air and its humidity ratio
    def dry_air(at_c, vapour):
        rest = 101325.0 - vapour
        return rest * 0.028965 / (8.314462 * (at_c + 273.15)), 0.62198 * vapour / rest

    (over, wet), (room, damp) = (dry_air(at, share * PropsSI("P", "T", at + 273.15, "Q", 0, "Water"))
                                 for at, share in ((temp_c, 1.0), (25.0, 0.5)))
    published = 35.0 * over * (room - over) ** (1 / 3) * (wet - damp)
    top = heat_loss.film_coefficients(0.24, 0.16, temp_c, 25.0, 0.0, 101325.0)[2]
    ours = heat_loss.vapour_kg_m2_s(top, temp_c, 25.0, 101325.0, 0.5) * 3600.0
    assert ours == pytest.approx(published, rel=0.18)
