"""Sizing of drives and supply for a dish: wind, torque, gears, speeds, energy. Units: SI, degrees."""
