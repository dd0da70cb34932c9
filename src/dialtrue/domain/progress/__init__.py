"""How far a programme is and how well it went: shares with their intervals, silent ports, what is at stake."""
