"""What so many episodes with so few hazards say about the rate. No units: shares of episodes."""

from __future__ import annotations

from scipy import stats


def upper_limit(hazards: int, runs: int, confidence: float = 0.95) -> float:
    """One-sided upper confidence limit on the hazard rate (Clopper & Pearson, Biometrika 26 (1934) 404)."""
    if runs <= 0 or hazards >= runs:
        return 1.0
    return float(stats.beta.ppf(confidence, hazards + 1, runs - hazards))


def rule_of_three(runs: int) -> float:
    """3 / n: the quick form of the 95 % limit when there was no hazard at all."""
    return min(1.0, 3.0 / runs) if runs > 0 else 1.0
