"""Errors of the places that results are written to."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class OutputFolderTaken(DialtrueError):
    """The demo would replace a folder that it did not make."""

    code = "OUTPUT-FOLDER-TAKEN"
    exit_code = 2
    message = "--out {folder}: the folder exists and was not made by the demo, so it is left alone."
    remedy = "Name a new folder, such as --out {folder}-demo."
    example = {"folder": "my-programme"}
