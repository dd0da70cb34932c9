"""Contract tables and data sheets, in and out, with row-level errors."""
