"""Alignment: how the mount truly stands, from sightings of the sun. Units: degrees."""
