"""Fraction of a paraboloid's light on a flat disc at its focus in closed form, to check the trace against.

Units: degrees for lag, metres for lengths, milliradians for slope error.

The ring form: the mirror is cut into rings of equal area and each ring into facets. A facet at rim-angle phi
throws a Gaussian spot on the focal plane, stretched radially by 1/cos(phi), its centre moved by the lag.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import erf

SUN_RADIUS_MRAD = 4.65  # half-angle of the solar disc, mrad
_RINGS, _FACETS, _STRIPS = 24, 24, 32


def rim_angle_deg(aperture_diameter_m: float, focal_length_m: float) -> float:
    """Angle in degrees, seen from the focus, between the axis and the rim."""
    return math.degrees(2.0 * math.atan(aperture_diameter_m / (4.0 * focal_length_m)))


def _spot_share(x0: NDArray, y0: NDArray, sx: NDArray, sy: NDArray, radius: float) -> NDArray:
    """Share of Gaussian spots (centre x0,y0, sigma sx,sy, m) that falls on a disc of `radius` m."""
    node, weight = np.polynomial.legendre.leggauss(_STRIPS)
    low = np.clip(x0 - 6.0 * sx, -radius, radius)
    high = np.clip(x0 + 6.0 * sx, -radius, radius)
    half = (high - low)[..., None] / 2.0
    x = (low + high)[..., None] / 2.0 + half * node
    height = np.sqrt(np.maximum(radius**2 - x**2, 0.0))
    density = np.exp(-0.5 * ((x - x0[..., None]) / sx[..., None]) ** 2) / (
        sx[..., None] * math.sqrt(2.0 * math.pi)
    )
    root2 = sy[..., None] * math.sqrt(2.0)
    across = 0.5 * (erf((height - y0[..., None]) / root2) - erf((-height - y0[..., None]) / root2))
    return np.asarray(np.sum(half * weight * density * across, axis=-1))


def intercept(
    lag_deg: ArrayLike,
    aperture_diameter_m: float,
    focal_length_m: float,
    receiver_radius_m: float,
    slope_error_mrad: float,
) -> NDArray:
    """Fraction (0..1) of the collected light on a flat disc at the focus, for each lag in degrees."""
    lag = np.abs(np.atleast_1d(np.asarray(lag_deg, dtype=float)))
    u_rim = (aperture_diameter_m / (4.0 * focal_length_m)) ** 2
    node, weight = np.polynomial.legendre.leggauss(_RINGS)
    u = (node + 1.0) / 2.0 * u_rim
    phi = (2.0 * np.arctan(np.sqrt(u)))[:, None]
    psi = (np.arange(_FACETS) + 0.5)[None, :] * (math.pi / _FACETS)  # mirror symmetry: half a turn is enough
    p = 2.0 * focal_length_m / (1.0 + np.cos(phi))
    sun, slope = SUN_RADIUS_MRAD / 2e3, slope_error_mrad / 1e3
    flat = np.ones_like(psi)
    cos_phi = np.maximum(np.cos(phi), 0.05)  # a ring near 90 deg smears along the plane without end
    s_radial = p / cos_phi * math.sqrt(sun**2 + 4.0 * slope**2) * flat
    s_across = p * np.sqrt(sun**2 + 4.0 * slope**2 * np.cos(phi / 2.0) ** 2) * flat
    out = np.empty(lag.size)
    for i, eps in enumerate(np.radians(lag.ravel())):
        x0 = eps * p / cos_phi * np.cos(psi)
        y0 = -eps * p * np.sin(psi)
        share = _spot_share(x0, y0, s_radial, s_across, receiver_radius_m)
        out[i] = float(np.sum(weight / 2.0 * share.mean(axis=1)))
    return np.clip(out, 0.0, 1.0).reshape(lag.shape)
