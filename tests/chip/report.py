"""What the emulated chip did, held against what it should. Units in the names."""

from dataclasses import asdict, dataclass

# design budgets of the controller: live heap, sun's error, pointing of a mount of two steppers.
# A collection of garbage alone takes 24 ms where the code lies on the heap, as with every image as released;
# so what is held is the pace: while it moves a tick comes each 100 ms, and steps are queued for 140. A fifth
# of the pace is kept in reserve.
TICK_AND_COLLECTION_MS = 80.0
AGAIN_S = 3.0  # of a board that has all already: link, looking, two starts
LIVE_HEAP_BYTES = 64 * 1024
SUN_DEG = 0.001
POINTING_DEG = 0.05


@dataclass(frozen=True)
class Figures:
    """One run. Times are emulated, without waiting for the flash: a chip takes somewhat longer."""

    micropython: str
    install_s: float
    again_s: float
    worst_tick_ms: float
    collection_ms: float
    heap_live_bytes: int
    heap_free_bytes: int
    sun_worst_deg: float
    tracking_s: float
    pointing_p50_deg: float
    pointing_p95_deg: float


def shortfalls(got: Figures) -> list[str]:
    """What does not hold, each in a line; [] where all does."""
    limits = (
        ("install of an unchanged board", got.again_s, AGAIN_S, "s"),
        ("worst tick and a collection", got.worst_tick_ms + got.collection_ms, TICK_AND_COLLECTION_MS, "ms"),
        ("live heap", got.heap_live_bytes, LIVE_HEAP_BYTES, "bytes"),
        ("sun against SPA", got.sun_worst_deg, SUN_DEG, "deg"),
        ("pointing, 95 %", got.pointing_p95_deg, POINTING_DEG, "deg"),
    )
    return [f"{what}: {value:g} {unit}, at most {most:g} wanted" for what, value, most, unit in limits
            if not value <= most]


def words(got: Figures) -> str:
    """All figures, one to a line."""
    return "\n".join(f"{name:<18} {value:g}" if isinstance(value, float) else f"{name:<18} {value}"
                     for name, value in asdict(got).items())
