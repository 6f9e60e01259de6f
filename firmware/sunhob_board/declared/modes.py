"""Modes of the controller, and why it is in one. No units."""

PARKED = 0
COMING = 1
COOKING = 2
ASIDE = 3
LEAVING = 4
BY_HAND = 5
LOCKED = 6
RESTING = 7

NAMES = ("PARKED", "COMING", "COOKING", "ASIDE", "LEAVING", "BY_HAND", "LOCKED", "RESTING")

# The cook's period: begun by ARM at the dish, ended by LEAVE, a fault, the stop chain or absence.
COOKS = (COMING, COOKING, ASIDE, RESTING)

# What a cook reads beside the mode.
WORDS = (
    "parked off the sun",
    "coming to the sun from behind",
    "cooking, following the sun",
    "turned aside, hands may be at the pot",
    "leaving, or moving on, for its resting place off the sun",
    "moved by hand control",
    "locked by a fault that needs a person",
    "off the heat for a while, the pot is warm enough; it comes back by itself: hands off",
)
