"""Brightness over the sun's disc, against measured tables. Units: shares, fractions of the disc's radius."""

import math

import numpy as np
import pytest
from sunhob.optics.sunshape import SUN_RADIUS_RAD, disc_radius_share, draw

# cos(theta), observed intensity over that of the centre, total light: course table "Solar Limb Darkening: a
# Comparison of Observational Data and the Eddington Model", physics department of Brigham Young University
OBSERVED = [(1.0, 1.0), (0.9, 0.944), (0.8, 0.898), (0.7, 0.842), (0.6, 0.788), (0.5, 0.750), (0.4, 0.670),
            (0.3, 0.602), (0.2, 0.522), (0.1, 0.450)]


def brightness(mu):
    """Light per area of the disc at cosine mu, from the radii the product draws, over that at the centre."""
    share = np.linspace(0.0, 1.0, 200_001)
    radius = disc_radius_share(share)
    density = np.gradient(share, radius**2)
    return np.interp(np.sqrt(1.0 - mu**2), radius, density) / density[100]


@pytest.mark.parametrize(("mu", "observed"), OBSERVED)
def test_disc_darkens_as_observed(mu, observed):
    assert brightness(mu) == pytest.approx(observed, rel=0.07)


@pytest.mark.parametrize("mu", [1.0, 0.8, 0.6, 0.4, 0.2])
def test_disc_darkens_nearly_as_at_550_nm(mu):
    # 0.3 + 0.93 mu - 0.23 mu^2 at 550 nm: Allen's Astrophysical Quantities (Cox, 2000), as widely quoted
    assert brightness(mu) == pytest.approx(0.3 + 0.93 * mu - 0.23 * mu**2, abs=0.05)


def test_spread_of_the_disc():
    # uniform disc: theta_s / 2 each way; (2 + 3 mu) / 5: <mu^2> = 0.55, so theta_s sqrt(0.45 / 2)
    even = draw(1 << 14, 1, limb_darkened=False).sun / SUN_RADIUS_RAD
    dark = draw(1 << 14, 1).sun / SUN_RADIUS_RAD
    np.testing.assert_allclose(even.std(axis=1), 0.5, rtol=0.005)
    np.testing.assert_allclose(dark.std(axis=1), math.sqrt(0.225), rtol=0.005)
    assert np.hypot(*dark).max() <= 1.0001


def test_draws_are_seeded_even_and_standard():
    one, same, other = draw(4096, 1), draw(4096, 1), draw(4096, 1, replicate=1)
    np.testing.assert_array_equal(one.entry, same.entry)
    assert np.any(one.entry != other.entry)
    np.testing.assert_allclose(np.mean(one.entry**2), 0.25, rtol=0.01)
    for errors in (one.slope, one.scatter):
        np.testing.assert_allclose(errors.std(axis=1), 1.0, rtol=0.02)
        np.testing.assert_allclose(errors.mean(axis=1), 0.0, atol=0.01)
