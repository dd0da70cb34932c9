"""Everything that is on record of one register that is to be put right."""

from __future__ import annotations

import datetime as dt
import zoneinfo
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from dialtrue.domain.dial import Dial
from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.index import Index
from dialtrue.domain.pulse_chain.timing import flow_limits
from dialtrue.domain.quantity import exact_decimal, litres_per
from dialtrue.domain.settlement.course import Course, course_of
from dialtrue.domain.settlement.periods import Period
from dialtrue.domain.settlement.true_course import Pin
from dialtrue.files.programme import Programme
from dialtrue.services.settle_reads import Channel

Row = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class RegisterRecord:
    """One fitted register.

    ``course``: the index as read, from the start index at the fitting on, where it is on record
    (``started``) [L]; ``shown_first_l`` what it showed first. ``most_lpm``: the most that can pass [L/min].
    ``pins``: dial reads on the dial's own course, those before the fitting too [L]; ``looks`` their texts.
    ``offset_l``: index less dial at the fitting, where both are on record. ``periods``: as billed. ``exchanged``: days
    on which another meter was fitted at this place. ``removed_at``: when the endpoint was taken off.
    ``said``: what was left out of all that, in words.
    """

    meter_serial: str
    register_role: str
    account: str
    endpoint_serial: str
    port: int
    fitted_at: dt.datetime
    fit_day: dt.date
    removed_at: dt.datetime | None
    dial: Dial
    index: Index
    weight_set_l: Fraction | None
    weight_meter_l: Fraction
    course: Course
    started: bool
    most_lpm: Fraction | None
    shown_first_l: Fraction
    pins: tuple[Pin, ...]
    looks: tuple[tuple[dt.datetime, str], ...]
    offset_l: Fraction | None
    periods: tuple[Period, ...]
    exchanged: tuple[dt.date, ...]
    said: tuple[str, ...]

    @property
    def heard(self) -> Course:
        """Return the course from the first read on, without the start index."""
        return self.course.since(1) if self.started else self.course

    @property
    def name(self) -> str:
        """Return what the register is called in sentences."""
        return self.meter_serial if self.register_role == "single" else f"{self.meter_serial} {self.register_role}"


def keyed(row: Row) -> tuple[str, str]:
    """Return the serial and role that tie tables together."""
    return str(row["meter_serial"]), str(row.get("register_role") or "single")


class Records:
    """The tables of a programme, by register."""

    def __init__(self, programme: Programme) -> None:
        def rows(name: str) -> list[Row]:
            table = programme.tables.get(name)
            return [] if table is None else table.to_pylist()

        self._zone = programme.timezone
        self._sites = {keyed(row): row for row in rows("sites")}
        self._fittings: dict[tuple[str, int], list[Row]] = {}
        self._of_site: dict[tuple[str, str], list[Row]] = {}
        for row in rows("fittings"):
            self._fittings.setdefault((str(row["endpoint_serial"]), int(row["port"] or 1)), []).append(row)
            place = (str(row.get("site") or row["meter_serial"]), str(row.get("register_role") or "single"))
            self._of_site.setdefault(place, []).append(row)
        self._looks: dict[tuple[str, str], list[Row]] = {}
        for row in rows("dial_reads"):
            self._looks.setdefault(keyed(row), []).append(row)
        self._moments: dict[str, set[dt.datetime]] = {}
        self._bills: dict[tuple[str, str], list[Row]] = {}
        for row in rows("bills"):
            self._bills.setdefault(keyed(row), []).append(row)

    def fitting(self, meter: str, endpoint: str, port: int) -> Row | None:
        """Return the last fitting of a port at a meter."""
        found = [row for row in self._fittings.get((endpoint, port), []) if str(row["meter_serial"]) == meter]
        return max(found, key=lambda row: row["fitted_at"], default=None)

    def record(self, fitting: Row, channel: Channel) -> RegisterRecord | str:
        """Return the record of a fitted register, or why there is none."""
        key = keyed(fitting)
        site = self._sites.get(key)
        if site is None:
            return "the register is in no survey, so its dial and unit are not known"
        dial = Dial.of(
            moving_digits=int(site["dial_digits"]), fixed_zeros=int(site["fixed_zeros"] or 0), unit=site["dial_unit"],
            resolution=site["dial_resolution"] or None,
        )  # fmt: skip
        if not fitting["index_digits"]:
            return "index_digits is blank in fittings, so the index cannot be followed across a rollover"
        unit = fitting["index_unit"] or dial.unit
        index = Index.of(
            digits=int(fitting["index_digits"]), unit=unit, resolution=fitting["index_resolution"] or dial.resolution
        )
        said: list[str] = []
        readings = [(at, count % index.modulus * index.resolution_l) for at, count in channel]
        start_l = self._start(fitting, index, said)
        if start_l is not None:
            readings = [(fitting["fitted_at"], start_l), *(pair for pair in readings if pair[0] > fitting["fitted_at"])]
        if fitting.get("removed_at") is not None:
            readings = [pair for pair in readings if pair[0] <= fitting["removed_at"]]
        if len(readings) < 2:
            return "there are not two readings of the index"
        most = self._most_lpm(site)
        course = course_of(readings, capacity_l=index.capacity_l, most_lpm=most)
        texts = self._texts(key, fitting)
        pins, seen_l = self._pins(texts, fitting, dial, most, said)
        offset = None if start_l is None or seen_l is None else _around(start_l - seen_l, dial, index)
        weight_set = fitting["weight_set"]
        return RegisterRecord(
            *key,
            account=str(site.get("account") or ""),
            endpoint_serial=str(fitting["endpoint_serial"]),
            port=int(fitting["port"] or 1),
            fitted_at=fitting["fitted_at"],
            fit_day=fitting["fitted_at"].astimezone(zoneinfo.ZoneInfo(self._zone)).date(),
            removed_at=fitting.get("removed_at"),
            dial=dial,
            index=index,
            weight_set_l=None
            if weight_set is None
            else exact_decimal(str(weight_set)) * litres_per(fitting["weight_unit"] or unit),
            weight_meter_l=exact_decimal(str(site["pulse_weight"])) * litres_per(site["pulse_unit"]),
            course=course,
            started=start_l is not None,
            most_lpm=most,
            shown_first_l=min(readings)[1],
            pins=pins,
            looks=tuple(texts),
            offset_l=offset,
            periods=tuple(self._periods(key)),
            exchanged=tuple(self._exchanges(fitting)),
            said=tuple(said),
        )

    def moments(self, meter: str) -> set[dt.datetime]:
        """Return the moments at which a meter's dial was seen, and those of its fittings."""
        if not self._moments:
            for key, rows in self._looks.items():
                self._moments.setdefault(key[0], set()).update(row["at"] for row in rows)
            for rows in self._fittings.values():
                for row in rows:
                    ends = (row["fitted_at"], row.get("removed_at"))
                    self._moments.setdefault(str(row["meter_serial"]), set()).update(
                        at for at in ends if at is not None
                    )
        return self._moments.get(meter, set())

    def meter_at(self, port: tuple[str, int]) -> str | None:
        """Return the meter that a port was last fitted to."""
        found = self._fittings.get(port, [])
        return str(max(found, key=lambda row: row["fitted_at"])["meter_serial"]) if found else None

    def _start(self, fitting: Row, index: Index, said: list[str]) -> Fraction | None:
        """Return the volume that the start index stands for."""
        text = fitting["start_index"]
        if not text:
            said.append("No start index is on record: volumes begin at the first read.")
            return None
        try:
            return index.volume(index.keyed(str(text))) * litres_per(index.unit)
        except DialtrueError as why:
            said.append(f"{why.rendered()} Volumes begin at the first read.")
            return None

    def _most_lpm(self, site: Row) -> Fraction | None:
        """Return the greatest flow of the meter's size, None where the size is not known."""
        try:
            limits = flow_limits(str(site["meter_size"])) if site.get("meter_size") else None
        except DialtrueError:
            return None
        most = None if limits is None else limits.max_flow_lpm
        return None if most is None else Fraction(most) * 2  # a meter passes more than its limit for a while

    def _texts(self, key: tuple[str, str], fitting: Row) -> list[tuple[dt.datetime, str]]:
        """Return what was seen on the dial, until the endpoint was taken off."""
        removed = fitting.get("removed_at")
        looks = {
            row["at"]: str(row["dial"]) for row in self._looks.get(key, []) if removed is None or row["at"] <= removed
        }
        if fitting["dial_at_fit"]:
            looks[fitting["fitted_at"]] = str(fitting["dial_at_fit"])
        return sorted(looks.items())

    def _pins(
        self, texts: list[tuple[dt.datetime, str]], fitting: Row, dial: Dial, most: Fraction | None, said: list[str]
    ) -> tuple[tuple[Pin, ...], Fraction | None]:
        """Return the dial reads as pins, and the dial at the fitting [L]."""
        readings: list[tuple[dt.datetime, Fraction]] = []
        for at, text in texts:
            try:
                readings.append((at, dial.read(text) * litres_per(dial.unit)))
            except DialtrueError as why:
                said.append(f"The dial read of {at:%Y-%m-%d} is left out. {why.rendered()}")
        seen = dict(readings).get(fitting["fitted_at"])
        if not readings:
            return (), None
        course = course_of(readings, capacity_l=dial.capacity_l, most_lpm=most)
        if course.falls:
            days = ", ".join(f"{course.at[place]:%Y-%m-%d}" for place in course.falls)
            said.append(f"The dial falls on {days}: those reads and all after them are left out.")
            kept = course.falls[0]
            course = Course(course.at[:kept], course.volume_l[:kept])
        return tuple(Pin(at, volume) for at, volume in zip(course.at, course.volume_l, strict=True)), seen

    def _periods(self, key: tuple[str, str]) -> Sequence[Period]:
        """Return the periods that were billed."""
        return [
            Period(
                row["start"],
                row["end"],
                exact_decimal(str(row["volume"])) * litres_per(row["unit"]),
                row["unit"],
                None if row.get("amount") is None else exact_decimal(str(row["amount"])),
                str(row.get("rate") or ""),
                bool(row.get("estimated")),
            )
            for row in self._bills.get(key, [])
        ]

    def _exchanges(self, fitting: Row) -> list[dt.date]:
        """Return the days on which another meter was fitted at this place, or this one taken off."""
        place = (str(fitting.get("site") or fitting["meter_serial"]), str(fitting.get("register_role") or "single"))
        found = set()
        for row in self._of_site.get(place, []):
            if row["meter_serial"] != fitting["meter_serial"]:
                found.add(row["fitted_at"].date())
        return sorted(found)


def _around(offset_l: Fraction, dial: Dial, index: Index) -> Fraction:
    """Return an offset as it was keyed, unless going round the smaller register makes next to nothing of it. [L]"""
    turn = min(dial.capacity_l, index.capacity_l)
    wrapped = (offset_l + turn / 2) % turn - turn / 2
    return wrapped if abs(wrapped) * 100 <= turn else offset_l
