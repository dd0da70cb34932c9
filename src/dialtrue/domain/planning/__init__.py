"""The plan of one register: port, weight, index, start, tamper loop, parts, minutes, and what must be asked first."""
