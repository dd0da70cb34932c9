"""Errors of reads and of the watch over them."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class NothingToWatch(DialtrueError):
    """A folder with neither fittings nor reads."""

    code = "NOTHING-TO-WATCH"
    exit_code = 40
    message = "The folder {folder} has neither fittings nor reads."
    remedy = "Put fittings.csv and reads.csv or reads.parquet there, in the form of the file contract."
    example = {"folder": "programme"}
