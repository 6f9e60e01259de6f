"""A small firmware that only tries the bench's stand-ins. Units: ms, us, steps."""
