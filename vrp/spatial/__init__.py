"""Quantities on the ground: values, units and cut points, and no crops."""
