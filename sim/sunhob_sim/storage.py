"""A block that keeps the sun's heat as warmth, and gives it to a pot set on it later.

Units: kg, J/(kg K), deg C, W/K, s. Specific heats near 100 to 200 deg C by handbooks, from memory; greatest
temperatures by common practice, no source.
"""

import math
from dataclasses import dataclass

MEDIA = {  # J/(kg K), deg C it bears
    "sand": (900.0, 600.0), "stone": (880.0, 400.0), "iron": (500.0, 500.0), "oil": (2300.0, 200.0),
}


@dataclass
class StorageMass:
    """A mass of one medium at one temperature, losing heat to the air through `ua_w_k`."""

    medium: str
    mass_kg: float
    temp_c: float
    ua_w_k: float

    @property
    def heat_j_k(self) -> float:
        return MEDIA[self.medium][0] * self.mass_kg

    @property
    def too_hot(self) -> bool:
        """Whether it is beyond what the medium bears."""
        return self.temp_c > MEDIA[self.medium][1]

    def step(self, dt_s: float, absorbed_w: float, air_c: float) -> None:
        """Let `dt_s` pass under so much heat: exact for any step."""
        rest_c = air_c + absorbed_w / self.ua_w_k
        self.temp_c = rest_c + (self.temp_c - rest_c) * math.exp(-dt_s * self.ua_w_k / self.heat_j_k)

    def give_w(self, contact_w_k: float, pot_c: float) -> float:
        """Heat that flows into a pot standing on it, W."""
        return contact_w_k * (self.temp_c - pot_c)
