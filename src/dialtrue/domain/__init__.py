"""Pure values and rules of the trade: no file, no clock, no database, no random source."""
