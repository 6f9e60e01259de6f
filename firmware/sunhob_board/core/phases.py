"""Phases of a mode, each the number told in no event: how far its move has come. No units."""

WARNING, BRAKING, MOVING, REST, HOMING, ONE_AXIS = range(6)
