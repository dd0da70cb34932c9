"""Acceptance of work by lot: plans, the draw, the judgement of a sample, and what it says of crews."""
