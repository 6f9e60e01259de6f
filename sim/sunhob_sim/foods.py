"""What is in the pot: how much heat it takes, how it thickens, how long it wants.

Units: kg, J/(kg K), W/(m2 K), minutes at 98 deg C, J/mol, deg C. The dishes are invented, the foods generic.

`solids` are weighed raw (soaked beans and meat with the water they hold, which stays in them).
Specific heats: dry starch and protein after Choi & Okos (1986), moist food by Siebel (1892), from memory.
Cook times: ranges near the boil by common kitchen practice, no source. How they change with temperature:
rice 17 kcal/mol below the boil (kinetic studies on cooking of rice, hardness by texturometer); beans z = 19 K
(Quast & da Silva, J. Food Science 42 (1977) 370); stew and meat by the order of softening, no source.
"""

import math
from dataclasses import dataclass

GAS = 8.314462618
KELVIN = 273.15
COOK_C = 98.0  # the temperature of the times below
_PASTE_W_M_K, _PASTE_M2_S = 0.55, 1.4e-7  # heat through thick food: near water's own, from memory
_STILL_W_M2_K = 35.0  # under a crust that nobody stirs: common practice, no source
_THIN_W_M2_K = 480.0  # on the cube root of the difference, see thin_w_m2_k
BOILING_W_M2_K = 2500.0  # order of Rohsenow's nucleate boiling at 10 to 20 kW/m2, from memory


@dataclass(frozen=True)
class Food:
    """One food. `uptake`: kg of water that 1 kg of solids binds by the time it is cooked."""

    solids_j_kg_k: float
    uptake: float
    cook_min: float  # at COOK_C
    activation_j_mol: float
    least_c: float  # below this nothing cooks
    about: str
    dry_w_m2_k: float = 0.0  # from the metal into it without water; 0: like a paste
    bears_c: float = math.inf


FOODS = {
    "water": Food(4186.0, 0.0, 0.0, 0.0, 0.0, "plain water"),
    "rice": Food(1600.0, 1.4, 18.0, 71e3, 68.0, "white rice with its water"),
    "porridge": Food(1600.0, 4.0, 30.0, 71e3, 68.0, "meal stirred into water, which thickens"),
    "beans": Food(3000.0, 0.3, 70.0, 139e3, 70.0, "soaked beans in fresh water"),
    "stew": Food(3400.0, 0.3, 90.0, 120e3, 70.0, "roots and pulses in thin gravy"),
    "meat": Food(3400.0, 0.0, 25.0, 120e3, 65.0, "cut meat in a little water"),
}


def cook_rate_per_s(food: Food, temp_c: float) -> float:
    """Share of the cooking done in a second at `temp_c`: Arrhenius about COOK_C."""
    if food.cook_min <= 0.0 or temp_c < food.least_c:
        return 0.0
    slope = food.activation_j_mol / GAS * (1.0 / (COOK_C + KELVIN) - 1.0 / (temp_c + KELVIN))
    return math.exp(slope) / (60.0 * food.cook_min)


def thickness(food: Food, solids_kg: float, water_kg: float, cooked: float) -> float:
    """0 for a thin liquid, 1 for a stiff paste: from the share of swollen solids in the whole."""
    whole = solids_kg + water_kg
    if solids_kg <= 0.0 or whole <= 0.0:
        return 0.0
    swollen = solids_kg * (1.0 + food.uptake * min(cooked, 1.0))
    return min(max((swollen / whole - 0.6) / 0.35, 0.0), 1.0)


def thin_w_m2_k(difference_k: float) -> float:
    """Hot plate under water: Nu = 0.15 Ra^(1/3) (Incropera eq. 9.31) with water at 80 deg C."""
    return float(_THIN_W_M2_K * max(abs(difference_k), 0.5) ** (1 / 3))


def inner_w_m2_k(thick: float, boiling: bool, difference_k: float, unstirred_s: float) -> float:
    """From the pot's metal to what is in it, W/(m2 K): free convection, boiling, or heat into a paste.

    An unstirred paste takes heat like a solid: k / sqrt(pi a t) since it was last stirred.
    """
    thin = max(thin_w_m2_k(difference_k), BOILING_W_M2_K if boiling else 0.0)
    if thick <= 0.0:
        return thin
    soak = _PASTE_W_M_K / math.sqrt(math.pi * _PASTE_M2_S * max(unstirred_s, 5.0))
    return float(thin ** (1.0 - thick) * max(soak, _STILL_W_M2_K) ** thick)
