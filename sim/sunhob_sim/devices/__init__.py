"""Register-level models of the devices on the board's bus. Units: see each module."""
