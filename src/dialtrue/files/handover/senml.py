"""SenML: the reads of some ports as packs of JSON, one pack a file, volumes in cubic metres.

Source
------
``RFC-8428``: a record's name is the base name and its own, its time the base time and its own; the base unit stands
for records without one. Names hold letters, digits and ``- : . / _`` and begin with a letter or a digit.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Final

from dialtrue.files.handover.part import PortReads, volume_texts

FOLDER: Final = "senml"
_OUTSIDE: Final = re.compile(r"[^A-Za-z0-9\-:./]")


def senml_name(programme: str, endpoint_serial: str, port: int) -> str:
    """Return the name of a port's volume: letters that no name may hold become an underscore and their code.

    Never raises.

    Source
    ------
    ``RFC-8428`` section 4.5.1 for the letters; the code of a letter is our assumption: two serials stay two names.

    Examples
    --------
    >>> senml_name("North town", "20 33", 1)
    'dialtrue:North_20town:20_2033:1:volume'
    """
    return f"dialtrue:{_plain(programme)}:{_plain(endpoint_serial)}:{port}:volume"


def _plain(text: str) -> str:
    return _OUTSIDE.sub(lambda found: f"_{ord(found.group()):02x}", text)


class SenmlPacks:
    """Writes one pack a part: ``senml/part-0001.senml``."""

    def __init__(self, folder: Path, *, programme: str) -> None:
        self._folder, self._programme = folder, programme
        self._made: list[tuple[str, int]] = []
        (folder / FOLDER).mkdir()

    def add(self, ports: list[PortReads]) -> None:
        """Take the reads of some ports, in order."""
        if not ports:
            return
        name = f"{FOLDER}/part-{len(self._made) + 1:04d}.senml"
        rows = 0
        with (self._folder / name).open("w", encoding="utf-8", newline="\n") as sink:
            for held in ports:
                volumes = volume_texts(held.index, held.port.step_m3).to_pylist()
                base_us = int(held.at_us[0])
                bn = json.dumps(senml_name(self._programme, held.port.endpoint_serial, held.port.port))
                unit = "" if rows else '"bu":"m3",'
                head = f'{{"bn":{bn},"bt":{_seconds(base_us)},{unit}'
                lines = [
                    f'{{"t":{_seconds(at - base_us)},"v":{volume}}}' if place else f'{head}"v":{volume}}}'
                    for place, (at, volume) in enumerate(zip(held.at_us.tolist(), volumes, strict=True))
                ]
                sink.write(("[" if not rows else ",\n") + ",\n".join(lines))
                rows += len(lines)
            sink.write("]\n")
        self._made.append((name, rows))

    def close(self) -> list[tuple[str, int]]:
        """Say which files were written, with their records."""
        return self._made

    def give_up(self) -> None:
        """Do nothing: each file is closed when its part is written."""


def _seconds(us: int) -> str:
    """Write microseconds as seconds, exactly."""
    whole, rest = divmod(us, 1_000_000)
    return f"{whole}.{rest:06d}".rstrip("0") if rest else str(whole)
