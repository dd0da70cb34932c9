"""Errors of the simulation: a plan that cannot be built."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class BadTownPlan(DialtrueError):
    """A value of the town's plan lies outside what can be built."""

    code = "BAD-TOWN-PLAN"
    exit_code = 2
    message = "The town cannot be built: {name} is {value}."
    remedy = "Give {name} as {form}."
    example = {"name": "days", "value": 3, "form": "a number from 14 to 1000"}


class TownFolderTaken(DialtrueError):
    """A folder that a town is to be written into holds something already."""

    code = "TOWN-FOLDER-TAKEN"
    exit_code = 2
    message = "The folder {folder} is not empty; no town was written."
    remedy = "Name a new folder, or move away what is in it."
    example = {"folder": "demo-town"}


class TownNotWritten(DialtrueError):
    """The system refused a folder of the town; nothing was left behind."""

    code = "TOWN-NOT-WRITTEN"
    exit_code = 2
    message = "The town could not be written to {folder}: {reason}. Nothing was left there."
    remedy = "Free space or permit writing in {folder}, then run the same command again."
    example = {"folder": "demo-town", "reason": "no space left on device"}
