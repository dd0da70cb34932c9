"""Whole-fleet arrays: scan, evidence, inference, simulation."""
