"""Errors of the checks of reads and of their settings."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class NothingToValidate(DialtrueError):
    """A folder without reads."""

    code = "NOTHING-TO-VALIDATE"
    exit_code = 40
    message = "The folder {folder} has no reads."
    remedy = "Put reads.csv or reads.parquet there, or a folder reads of such files, in the form of the file contract."
    example = {"folder": "programme"}


class OriginalKept(DialtrueError):
    """The result would take the place of the reads it was made from."""

    code = "ORIGINAL-KEPT"
    exit_code = 2
    message = "--out {file} is a file of the programme's own reads, which are never overwritten."
    remedy = "Name another file, such as validated.parquet beside the folder."
    example = {"file": "my-programme/reads.parquet"}


class UnknownValidateSetting(DialtrueError):
    """A name in the table [validate] that means nothing."""

    code = "UNKNOWN-VALIDATE-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "validate.spikes", "nearest": "validate.spike_ratio"}


class BadValidateSetting(DialtrueError):
    """A setting of the checks that is of the wrong kind, or out of its range."""

    code = "BAD-VALIDATE-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {"file": "programme.toml", "key": "validate.spike_ratio", "value": "-1", "expected": "a number above 0"}
