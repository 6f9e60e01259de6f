"""Parts by rating: mirror, what carries the pot, what stands between light and people. Units in the words.

Common practice, no source, but for what is reckoned from the dish's own declarations.
"""

from __future__ import annotations

from typing import Any

_POT_N = 100.0  # a pot with its food, 10 kg
_TIMES = 3.0  # the load that ring and bar are to stand
_STEEL_PA = 2.1e11
_SAG_M = 0.002
_BESIDE_M = 0.1  # from the mirror's rim to where the bar is held, each side
_SHADE = 5  # welding filter, to watch the ring of light on a pot


def bar_moment_n_m(span_m: float) -> float:
    """Bending moment in the middle of a bar held at its ends that the load must not overcome."""
    return _TIMES * _POT_N * span_m / 4.0


def bar_second_moment_cm4(span_m: float) -> float:
    """Second moment of area at which a steel bar sags no more than it may under the pot itself."""
    return 1e8 * _POT_N * span_m**3 / (48.0 * _STEEL_PA * _SAG_M)


def shade_passes(shade: int) -> float:
    """Share of light that a welding filter passes: shade = 1 + 7/3 log10(1 / share)."""
    return 10.0 ** (-3.0 * (shade - 1) / 7.0)


def light_parts(cooker: Any, figures: dict[str, Any]) -> list[tuple[str, str, str]]:
    """Rows of part, how many, rating. figures: those kept of the traced dish."""
    dish = cooker.dish
    plates = ", ".join(f"{one['diameter_m']:.2f} m for {one['least_percent']:.0f} %"
                       for one in figures["plates"])
    span = dish.aperture_diameter_m + 2.0 * _BESIDE_M
    return [
        (
            "mirror", "1",
            f"paraboloid, {dish.aperture_diameter_m:g} m wide, focal length {dish.focal_length_m:g} m; gives "
            f"back {100 * dish.reflectance:.0f} % or more when clean; slope within {dish.slope_error_mrad:g} "
            f"mrad rms, scatter within {dish.specularity_mrad:g} mrad rms; edges blunt or bound; glass held "
            "all over its back, so that what breaks stays",
        ),
        (
            "guard plate", "1, if the least heat is under 40 %",
            "sheet steel, 1 mm or more, not galvanised, bare or in stove paint; wide by the least heat: "
            f"{plates}; a hole for the pot ring ([loose light](light.md))",
        ),
        (
            "pot ring", "1",
            f"bare steel, for a pot {1000 * cooker.pot.diameter_m:.0f} mm wide, within 2 mm of its place; "
            f"carries {_TIMES * _POT_N:.0f} N; stands 250 degC",
        ),
        (
            "pot bar", "1",
            f"bare steel tube, {span:.1f} m between its holds, held so that it cannot turn; stands "
            f"{bar_moment_n_m(span):.0f} N m in its middle ({_TIMES:g} times a pot of {_POT_N:.0f} N); "
            f"second moment of area {bar_second_moment_cm4(span):.1f} cm4 or more, so that it sags "
            f"{1000 * _SAG_M:.0f} mm at most",
        ),
        (
            "dark glasses", "2 pairs or more",
            f"closed at the sides; welding filter of shade {_SHADE} (about {100 * shade_passes(_SHADE):.0f} "
            "% of the light passes), to watch the ring of light on the pot from behind. **No shade makes it "
            "safe to look into the mirror, along it, or at the sun.** Eyes differ: ask who knows",
        ),
        ("gloves", "1 pair", "for hot pots, 250 degC, cuffs over the wrists, no plastic"),
        (
            "sand", "1 bucket",
            "10 litres, dry, a metal bucket, behind the dish; water beside it for wood and grass, never on "
            "burning fat",
        ),
        (
            "fire blanket", "1",
            "1.2 m x 1.8 m or larger, made for kitchens, behind the dish where a hand finds it: for burning "
            "fat and for clothes",
        ),
    ]
