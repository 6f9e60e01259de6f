"""The firmware on an emulated RP2040: what is flashed, run as it is flashed. No units.

Emulator: the package rp2040py. image of MicroPython: named by SUNHOB_BOARD_IMAGE, see DEVELOPERS.md.
"""
