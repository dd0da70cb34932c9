"""Errors of parts of the tool that are installed only where they are wanted."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class ExtraMissing(DialtrueError):
    """A library that only some commands need is not installed."""

    code = "EXTRA-MISSING"
    exit_code = 2
    message = "{what} cannot be made: the package {package} is not installed."
    remedy = "Install it with the extra: pip install 'dialtrue[{extra}]'."
    example = {"what": "A workbook", "package": "xlsxwriter", "extra": "paper"}
