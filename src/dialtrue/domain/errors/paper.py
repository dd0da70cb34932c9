"""Errors of job sheets and labels: settings, grids, sites and days that nobody knows."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class LabelGridUnfit(DialtrueError):
    """A grid of labels that no sheet can have."""

    code = "LABEL-GRID-UNFIT"
    exit_code = 19
    message = "Grid of labels: {what}."
    remedy = "Measure the sheet in your hand and correct the table [labels] of programme.toml (millimetres)."
    example = {"what": "3 labels across reach 220 mm on a paper of 215.9 mm"}


class UnknownPaperSetting(DialtrueError):
    """A name in the tables [paper] and [labels] that means nothing."""

    code = "UNKNOWN-PAPER-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "labels.colums", "nearest": "labels.columns"}


class BadPaperSetting(DialtrueError):
    """A setting of the paper or of the labels that is out of its range or not in its form."""

    code = "BAD-PAPER-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {"file": "programme.toml", "key": "paper.size", "value": "'a5'", "expected": "one of 'letter', 'a4'"}


class SiteNotPlanned(DialtrueError):
    """A site was named that the sites table does not hold."""

    code = "SITE-NOT-PLANNED"
    exit_code = 18
    message = "There is no site {site} in the sites table."
    remedy = "The nearest are {nearest}."
    example = {"site": "S-104", "nearest": "S-1042, S-1040"}


class NoSheetsLeft(DialtrueError):
    """Nothing to print: no site is left after what was asked for."""

    code = "NO-SHEETS-LEFT"
    exit_code = 18
    message = "There is no sheet to print: {why}."
    remedy = "{next}"
    example = {
        "why": "no visit of crew North on 2026-12-01 stands in routes.csv",
        "next": "Days with visits: 2026-12-02.",
    }
