"""dialtrue keeps every radio read of a pulse-output water meter true to the dial."""

__version__ = "0.1.0"
