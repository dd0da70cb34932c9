"""Errors of the proof on site."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class ProofFigureRange(DialtrueError):
    """A figure of a proof that no meter can have."""

    code = "PROOF-FIGURE"
    exit_code = 30
    message = "{name} is {value}: a proof cannot be planned with that."
    remedy = "Give a figure above nought: check the pulse weight, the dial and the flow of the tap."
    example = {"name": "weight_l", "value": "0"}
