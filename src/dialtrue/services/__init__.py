"""One function for each thing a technician, lead or clerk does."""
