"""Writes a finished picture to the file a user named. No units."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from .errors import UserError


def save_png(figure: Any, path: Path, dpi: int = 110) -> None:
    """Save a matplotlib figure as PNG and let it go; UserError where the file cannot be written."""
    import matplotlib.pyplot as plt

    try:
        figure.savefig(path, dpi=dpi, format="png")
    except OSError as error:
        raise UserError(f"--plot {path}: cannot be written ({error.strerror}); give another file") from None
    finally:
        plt.close(figure)
