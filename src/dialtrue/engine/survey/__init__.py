"""A whole sites sheet at once: each module looks for one family of slips and raises what it finds."""
