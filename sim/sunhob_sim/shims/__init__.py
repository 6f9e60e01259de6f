"""Stand-ins for the board's own modules, one source for both interpreters. Units: see each module."""
