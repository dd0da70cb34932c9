"""Errors of a replay."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class BadTruth(DialtrueError):
    """The folder of labels cannot be used."""

    code = "BAD-TRUTH"
    exit_code = 15
    message = "{file} cannot be used as what was planted: {reason}."
    remedy = "Name the folder of labels that a simulated town came with, or leave --truth out."
    example = {"file": "labels/labels.csv", "reason": "it has no column since"}
