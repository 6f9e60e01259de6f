"""Sensible storage: a pot of sand, stone, iron or oil that keeps the sun's heat as warmth.

Units: as in foods.py. Specific heats near 100 to 200 deg C, what it bears, and how well its bottom layer
takes heat: handbook order, from memory. It stands in the pot like a food that holds no water and never cooks.
"""

from .foods import FOODS, Food

MEDIA = {
    "sand": Food(900.0, 0.0, 0.0, 0.0, 0.0, "dry sand", 25.0, 600.0),
    "stone": Food(880.0, 0.0, 0.0, 0.0, 0.0, "loose stones", 40.0, 400.0),
    "iron": Food(500.0, 0.0, 0.0, 0.0, 0.0, "an iron block on the bottom", 200.0, 500.0),
    "oil": Food(2300.0, 0.0, 0.0, 0.0, 0.0, "frying oil", 150.0, 200.0),
}
CONTENTS = FOODS | MEDIA
