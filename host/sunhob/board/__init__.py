"""Putting the controller on a board: what goes there, the console it goes through, the swap (no units)."""
