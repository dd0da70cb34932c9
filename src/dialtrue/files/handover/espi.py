"""ESPI (Green Button): the index of each port, or its use, as Atom feeds of water usage points, one feed a part.

Element names and codes only; the text of the standard is its publisher's.

Source
------
``NAESB-REQ-21``: service 2 water, commodity 9 potable water, kind 58 volume, accumulation 1 a running
index, 4 the use of an interval.
"""

from __future__ import annotations

import datetime as dt
import itertools
import uuid
from dataclasses import dataclass
from pathlib import Path
from typing import Final, TextIO
from xml.sax.saxutils import escape, quoteattr

import numpy as np

from dialtrue.domain.handover.exact import ESPI_UNIT, whole_steps
from dialtrue.domain.handover.port import ESPI_QUALITY, HandedPort
from dialtrue.domain.quantity import convert
from dialtrue.files.handover.local_time import LocalTime
from dialtrue.files.handover.part import PortReads

FOLDER: Final = "espi"
MOST_VALUE: Final = 2**47 - 1
"""Greatest value of a reading, 48 bits with sign. Source: ``NAESB-REQ-21``."""

LEAST_POWER: Final = -12
"""Least power of ten of a reading. Source: ``NAESB-REQ-21``."""

_NAMES: Final = uuid.UUID("5f3c53b6-93a4-5d2c-9f49-6d1d2a3e7c10")
_MONTH: Final = np.dtype("datetime64[M]")


class EspiFeeds:
    """Writes one feed a part: ``espi/part-0001.xml``. ``unwritten``: ports of an index too large or too fine."""

    def __init__(
        self, folder: Path, *, programme: str, made_at: dt.datetime, zone: LocalTime, use: bool = False
    ) -> None:
        self._folder, self._programme, self._zone = folder, programme, zone
        self._use = use
        self._stamp = f"{made_at:%Y-%m-%dT%H:%M:%SZ}"
        self._made: list[tuple[str, int]] = []
        self.unwritten: list[HandedPort] = []
        (folder / FOLDER).mkdir()

    def add(self, ports: list[PortReads]) -> None:
        """Take the reads of some ports, in order."""
        if not ports:
            return
        name = f"{FOLDER}/part-{len(self._made) + 1:04d}.xml"
        rows = 0
        with (self._folder / name).open("w", encoding="utf-8", newline="\n") as sink:
            sink.write('<?xml version="1.0" encoding="UTF-8"?>\n<feed xmlns="http://www.w3.org/2005/Atom">\n')
            sink.write(f"<id>{self._id('feed', name)}</id>\n<title>{escape(self._programme)}</title>\n")
            sink.write(f'<updated>{self._stamp}</updated>\n<link rel="self" href={quoteattr(name)}/>\n')
            self._local_time(sink)
            for held in ports:
                rows += self._port(sink, held)
            sink.write("</feed>\n")
        self._made.append((name, rows))

    def close(self) -> list[tuple[str, int]]:
        """Say which files were written, with their readings."""
        return self._made

    def give_up(self) -> None:
        """Do nothing: each file is closed when its part is written."""

    def _id(self, *parts: str) -> str:
        return f"urn:uuid:{uuid.uuid5(_NAMES, chr(31).join((self._programme, *parts)))}"

    def _entry(self, sink: TextIO, key: str, links: list[tuple[str, str]], title: str, content: str) -> None:
        sink.write(f"<entry><id>{self._id(key)}</id>")
        sink.write("".join(f'<link rel="{rel}" href={quoteattr(href)}/>' for rel, href in links))
        sink.write(f"<title>{escape(title)}</title><content>{content}</content>")
        sink.write(f"<published>{self._stamp}</published><updated>{self._stamp}</updated></entry>\n")

    def _local_time(self, sink: TextIO) -> None:
        zone = self._zone
        content = (
            '<LocalTimeParameters xmlns="http://naesb.org/espi">'
            f"<dstEndRule>{zone.dst_end_rule}</dstEndRule><dstOffset>{zone.dst_offset_s}</dstOffset>"
            f"<dstStartRule>{zone.dst_start_rule}</dstStartRule><tzOffset>{zone.tz_offset_s}</tzOffset>"
            "</LocalTimeParameters>"
        )
        links = [("self", "LocalTimeParameters/1"), ("up", "LocalTimeParameters")]
        self._entry(sink, "LocalTimeParameters", links, "Local time", content)

    def _port(self, sink: TextIO, held: PortReads) -> int:
        """Write the entries of one port; return how many readings there are."""
        port = held.port
        code, unit = ESPI_UNIT[port.volume_unit]
        whole, power = whole_steps(convert(port.step, port.volume_unit, unit))
        told = _use(held) if self._use else _standing(held)
        if int(np.abs(told.count).max(initial=0)) * whole > MOST_VALUE or power < LEAST_POWER:
            self.unwritten.append(port)
            return 0
        what, accumulation = ("Use", 4) if self._use else ("Index", 1)
        here = f"UsagePoint/{port.key}"
        reading, kind = f"{here}/MeterReading/1", f"ReadingType/{port.key}"
        name = f"{port.meter_serial or port.endpoint_serial} {port.register_role}".strip()
        self._entry(
            sink, here,
            [("self", here), ("up", "UsagePoint"), ("related", f"{here}/MeterReading"),
             ("related", "LocalTimeParameters/1")],
            name,
            '<UsagePoint xmlns="http://naesb.org/espi"><ServiceCategory><kind>2</kind></ServiceCategory>'
            "<status>1</status></UsagePoint>",
        )  # fmt: skip
        self._entry(
            sink, reading,
            [("self", reading), ("up", f"{here}/MeterReading"), ("related", f"{reading}/IntervalBlock"),
             ("related", kind)],
            f"{what} of {name}", '<MeterReading xmlns="http://naesb.org/espi"/>',
        )  # fmt: skip
        usual = ESPI_QUALITY[int(np.bincount(held.quality).argmax())]
        self._entry(
            sink, kind, [("self", kind), ("up", "ReadingType")], f"{what} of {name}, {unit}",
            '<ReadingType xmlns="http://naesb.org/espi">'
            f"<accumulationBehaviour>{accumulation}</accumulationBehaviour>"
            f"<commodity>9</commodity><defaultQuality>{usual}</defaultQuality><flowDirection>1</flowDirection>"
            f"<kind>58</kind><powerOfTenMultiplier>{power}</powerOfTenMultiplier><uom>{code}</uom></ReadingType>",
        )  # fmt: skip
        self._blocks(sink, told, f"{reading}/IntervalBlock", whole=whole, usual=usual)
        return len(told.at_s)

    def _blocks(self, sink: TextIO, told: _Readings, up: str, *, whole: int, usual: int) -> None:
        """Write one block a calendar month, UTC."""
        if not len(told.at_s):
            return
        month = told.at_s.astype("datetime64[s]").astype(_MONTH)
        edges = [0, *(np.flatnonzero(month[1:] != month[:-1]) + 1).tolist(), len(month)]
        for number, (low, high) in enumerate(itertools.pairwise(edges), 1):
            first, last = int(told.at_s[low]), int(told.at_s[high - 1] + told.duration_s[high - 1])
            parts = [
                '<IntervalBlock xmlns="http://naesb.org/espi">'
                f"<interval><duration>{last - first}</duration><start>{first}</start></interval>"
            ]
            columns = (told.at_s, told.duration_s, told.count, told.quality)
            for at, duration, count, quality in zip(*(each[low:high].tolist() for each in columns), strict=True):
                code = ESPI_QUALITY[quality]
                said = "" if code == usual else f"<ReadingQuality><quality>{code}</quality></ReadingQuality>"
                parts.append(
                    f"<IntervalReading>{said}<timePeriod><duration>{duration}</duration><start>{at}</start></timePeriod>"
                    f"<value>{count * whole}</value></IntervalReading>"
                )
            parts.append("</IntervalBlock>")
            here = f"{up}/{number}"
            self._entry(sink, here, [("self", here), ("up", up)], f"{month[low]}", "".join(parts))


@dataclass(frozen=True, slots=True)
class _Readings:
    """Readings as they are written: start and duration [s], counts, quality codes."""

    at_s: np.ndarray
    duration_s: np.ndarray
    count: np.ndarray
    quality: np.ndarray


def _standing(held: PortReads) -> _Readings:
    """Return the index at each moment."""
    at_s = held.at_us // 1_000_000
    return _Readings(at_s, np.zeros_like(at_s), held.index, held.quality)


def _use(held: PortReads) -> _Readings:
    """Return what passed between each read and the next, across the index's coming round.

    A step of more than half the index is a step back, as of water that ran backwards: it is negative. The use is as
    good as the worse of its two reads.
    """
    at_s = held.at_us // 1_000_000
    modulus = held.port.modulus
    step = np.diff(held.index) % modulus
    step = np.where(step > modulus // 2, step - modulus, step)
    return _Readings(at_s[:-1], np.diff(at_s), step, np.maximum(held.quality[:-1], held.quality[1:]))
