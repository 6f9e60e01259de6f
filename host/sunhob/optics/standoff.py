"""How far eyes and skin must keep from gathered sunlight, by published limits.

Units: m, rad, s; irradiance at the eye and on skin in W/m2; irradiance on the retina in W/cm2, as published.

Eye: Ho, Ghanbari & Diver, J. Sol. Energy Eng. 133 (2011) 031021 (constants and both limits from memory; the
sun check in tests/test_optics_standoff.py holds them together). A mirror full of sun is as bright as the sun
times its reflectance at any distance: what falls with distance is only the angle its lit patch fills. The eye
distance is where that angle comes under the limit. Two patches are told:
- the whole aperture full of sun. No lit patch is wider, whatever the mirror's figure (flat tiles, a film
  that sags) and wherever one stands: this is the stand-off;
- the sun's image in a smooth mirror, widened by its declared errors: what a true mirror shows from beyond
  its focus. It is told beside, and never stands for the stand-off.
The after-image limit (short flash blindness: a danger to who handles the dish) is told apart.

Skin: Stoll & Chianta 1969, second-degree burn, as tabulated for the standards on protective clothing, fit
q = 50.17 t^-0.7099 kW/m2 within 1.1 % of the table's nine points. Nobody should need to be quick: the
stand-off takes the longest exposure tabulated, 30 s.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

SUN_ANGLE_RAD = 9.3e-3  # width of the sun's disc
PUPIL_M, EYE_FOCAL_M, EYE_TRANSMITTANCE, BLINK_S = 0.002, 0.017, 0.5, 0.15  # Ho et al. 2011, from memory
BURN_KNEE_RAD, BURN_WIDE_W_CM2 = 0.118, 1.0  # burn limit: 0.118/angle, from 0.118 rad on 1 W/cm2
AFTER_IMAGE_FACTOR, AFTER_IMAGE_POWER = 3.59e-5, 1.77
STOLL_KW_M2, STOLL_POWER = 50.17, 0.7099
STOLL_LONGEST_S = 30.0  # last row of the table; beyond it the fit is a guess
NO_DISCOMFORT_W_M2 = 1600.0  # process-safety table (World Bank 1985, API 521), from memory
NO_PLATE_PERCENT = 40.0  # least heat of a dish without a guard plate
WOOD_W_M2 = 4000.0  # below the lowest published ignition flux of wood, 4.3 kW/m2 (Babrauskas 2001)


@dataclass(frozen=True)
class Standoff:
    """Distances in m. `eye` and both after-image ones from the mirror, the others from the focus."""

    eye: float
    eye_smooth_mirror: float
    after_image: float
    after_image_smooth_mirror: float
    skin: float
    skin_no_discomfort: float
    retina_w_cm2: float
    skin_limit_w_m2: float


def retina_w_cm2(eye_w_m2: float, angle_rad: float) -> float:
    """Irradiance on the retina (W/cm2) of a source `angle_rad` wide that gives `eye_w_m2` at the eye."""
    return eye_w_m2 * (PUPIL_M / (EYE_FOCAL_M * angle_rad)) ** 2 * EYE_TRANSMITTANCE / 1e4


def burn_limit_w_cm2(angle_rad: float) -> float:
    """Retinal irradiance (W/cm2) that burns within a blink of 0.15 s, for a source so wide (rad)."""
    return BURN_KNEE_RAD / angle_rad if angle_rad < BURN_KNEE_RAD else BURN_WIDE_W_CM2


def after_image_limit_w_cm2(angle_rad: float) -> float:
    """Retinal irradiance (W/cm2) that leaves an after-image, for a source so wide (rad)."""
    return float(AFTER_IMAGE_FACTOR / angle_rad**AFTER_IMAGE_POWER)


def mirror_w_cm2(reflectance: float, dni_w_m2: float) -> float:
    """Retinal irradiance (W/cm2) of a mirror full of sun: the sun's own times its reflectance, anywhere."""
    return reflectance * retina_w_cm2(dni_w_m2, SUN_ANGLE_RAD)


def burn_angle_rad(retina: float) -> float:
    """Width (rad) of the patch from which a retinal irradiance (W/cm2) burns; inf where it never does."""
    return BURN_KNEE_RAD / retina if retina >= BURN_WIDE_W_CM2 else math.inf


def after_image_angle_rad(retina: float) -> float:
    """Width (rad) of the patch from which a retinal irradiance (W/cm2) leaves an after-image."""
    return float((AFTER_IMAGE_FACTOR / retina) ** (1.0 / AFTER_IMAGE_POWER))


def distance_m(width_m: float, angle_rad: float) -> float:
    """Distance (m) at which a patch `width_m` wide fills `angle_rad`; 0 where no angle is enough."""
    return 0.0 if math.isinf(angle_rad) else width_m / (2.0 * math.tan(angle_rad / 2.0))


def stoll_w_m2(seconds: float) -> float:
    """Flux (W/m2) on bare skin that gives a second-degree burn in so many seconds."""
    return float(1e3 * STOLL_KW_M2 * seconds**-STOLL_POWER)


def stoll_s(flux_w_m2: float) -> float:
    """Seconds to a second-degree burn at a flux (W/m2); beyond 30 s outside the published table."""
    return float((STOLL_KW_M2 * 1e3 / flux_w_m2) ** (1.0 / STOLL_POWER))


def on_axis_w_m2(distance_from_focus_m: float, focal_m: float, reflectance: float, dni_w_m2: float) -> float:
    """Flux (W/m2) on the axis, beyond the focus: reflectance * DNI * (f/x)^2, the thin-cone law."""
    return reflectance * dni_w_m2 * (focal_m / distance_from_focus_m) ** 2


def far_flux_m(flux_w_m2: float, rim_ray_m: float, reflectance: float, dni_w_m2: float) -> float:
    """Distance (m) from the light's narrowest place beyond which a smooth dish gives less than a flux (W/m2).

    The intensity a smooth mirror sends out of parallel light is reflectance * DNI / (4 K), K its Gaussian
    curvature there, whatever the angle of incidence; a paraboloid sends each direction from one point, and
    1/(4K) is the square of the distance p from that point to the focus, greatest at the rim.
    """
    return rim_ray_m * math.sqrt(reflectance * dni_w_m2 / flux_w_m2)


def image_width_m(rim_ray_m: float, slope_mrad: float, specularity_mrad: float) -> float:
    """Width (m) of the sun's image in a smooth mirror: its disc, and two sigma of the errors each side."""
    spread = 2.0 * math.hypot(2.0 * slope_mrad, specularity_mrad) / 1e3
    return rim_ray_m * (SUN_ANGLE_RAD + 2.0 * spread)


def standoff(
    aperture_m: float,
    focal_m: float,
    reflectance: float,
    slope_mrad: float,
    specularity_mrad: float,
    skin_m: float,
    no_discomfort_m: float,
    dni_w_m2: float = 1000.0,
) -> Standoff:
    """Stand-off distances of a dish. `skin_m` and `no_discomfort_m`: the farthest places (m from the focus)
    where the traced light passes stoll_w_m2(30 s) and 1.6 kW/m2."""
    retina = mirror_w_cm2(reflectance, dni_w_m2)
    burn, after = burn_angle_rad(retina), after_image_angle_rad(retina)
    rim_ray = focal_m + aperture_m**2 / (16.0 * focal_m)
    image = min(aperture_m, image_width_m(rim_ray, slope_mrad, specularity_mrad))
    return Standoff(
        eye=distance_m(aperture_m, burn),
        # off the sun the image lies up to about a rim ray away from the focus
        eye_smooth_mirror=distance_m(image, burn) + rim_ray,
        after_image=distance_m(aperture_m, after),
        after_image_smooth_mirror=distance_m(image, after) + rim_ray,
        skin=skin_m,
        skin_no_discomfort=no_discomfort_m,
        retina_w_cm2=retina,
        skin_limit_w_m2=stoll_w_m2(STOLL_LONGEST_S),
    )
