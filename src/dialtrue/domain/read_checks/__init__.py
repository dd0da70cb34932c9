"""Checks of reads and estimates for gaps, by published practice of utilities."""
