"""Faults of the bench: a table of named faults, and the tray that brings them on at their times.

Units: seconds from the start of the run; the severity's unit stands in each row of `library.FAULTS`.
"""
