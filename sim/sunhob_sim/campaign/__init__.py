"""Campaigns: many short runs of the real firmware with faults drawn at random. Units: seconds, degrees."""
