"""The frame of every page: opens from disk, reaches nowhere, runs nothing."""

from __future__ import annotations

from pathlib import Path
from typing import BinaryIO, Final

from dialtrue.files.report.markup import safe
from dialtrue.files.report.style import STYLE
from dialtrue.files.tables_out import write_atomically

_POLICY: Final = "default-src 'none'; style-src 'unsafe-inline'"


def whole_page(
    title: str, *, header: str, main: str, footer: str, skip: str = "To the findings", style: str = ""
) -> str:
    """Put a page together from parts that are HTML already; ``style`` adds rules, ``title`` is text. Never raises."""
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">'
        '<meta name="viewport" content="width=device-width,initial-scale=1">'
        f'<meta name="color-scheme" content="light dark"><title>{safe(title)}: dial and index</title>'
        f"<style>{STYLE}{style}</style></head><body>"
        f'<a class="skip" href="#main">{safe(skip)}</a>'
        f'<header><h1>{safe(title)}</h1>{header}</header><main id="main">{main}</main>{footer}</body></html>\n'
    )


def write_page(path: Path, text: str) -> None:
    """Write a page, whole or not at all.

    Raises
    ------
    OutputNotWritten
        The system refused; what stood there is unchanged.
    """
    content = text.encode()

    def write(sink: BinaryIO) -> None:
        sink.write(content)

    write_atomically(path, write)
