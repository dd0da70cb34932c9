"""Measured hours of rain and temperature that the invented town borrows; see NOTICE beside this file."""
