"""Phases of a mode, each the number told in no event: how far its move has come. No units."""

WARNING, REST, BRAKING, MOVING, HOMING, ONE_AXIS = range(6)  # past REST something is under way
