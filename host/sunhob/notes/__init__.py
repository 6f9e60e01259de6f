"""Builds the generated pages and drawings: `python -m sunhob.notes hardware_notes`. Units: in each."""
