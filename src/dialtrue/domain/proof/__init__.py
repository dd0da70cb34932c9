"""Proof on site: how much water to draw, and what the index may have moved by then."""
