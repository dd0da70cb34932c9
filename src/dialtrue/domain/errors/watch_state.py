"""Errors of the kept state of a watch: each leads to a full run, and is said."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class StateOfAnotherVersion(DialtrueError):
    """The state was kept by a release that counts otherwise."""

    code = "STATE-OF-ANOTHER-VERSION"
    exit_code = 60
    message = "The state in {folder} was kept by another release of dialtrue."
    remedy = "Nothing to do: all reads are counted again, once, and the state is kept anew."
    example = {"folder": "state"}


class StateOfAnotherProgramme(DialtrueError):
    """The state was kept for another folder, zone or choice of repairs."""

    code = "STATE-OF-ANOTHER-PROGRAMME"
    exit_code = 60
    message = "The state in {folder} was kept for another programme or other options: {what} differs."
    remedy = "Keep one state folder for each programme and way of running it; here all reads are counted again."
    example = {"folder": "state", "what": "time zone"}


class StateDamaged(DialtrueError):
    """A file of the state is missing, cut short or altered."""

    code = "STATE-DAMAGED"
    exit_code = 61
    message = "The state in {folder} is damaged: {reason}."
    remedy = "Nothing to do: all reads are counted again, and the state is kept anew; look after the disk."
    example = {"folder": "state", "reason": "run-000003/rows-figures.npy was altered"}


class StateFolderTaken(DialtrueError):
    """The folder named for the state holds other things."""

    code = "STATE-FOLDER-TAKEN"
    exit_code = 61
    message = "{folder} holds files that are not of a kept state."
    remedy = "Name a new or empty folder."
    example = {"folder": "my-programme"}
