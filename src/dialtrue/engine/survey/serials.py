"""Serials by themselves and against what is on record: printed as numbers, zeros lost, copied down, check digits."""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass, field
from typing import Final

from dialtrue.domain.survey.check_digits import passes
from dialtrue.domain.survey.settings import SurveySettings
from dialtrue.engine.survey.sheet import Listed, Raised, Sheet, shown

_POWER: Final = re.compile(r"^([0-9])(?:[.,]([0-9]+))?[eE]\+?([0-9]{1,3})$")
_POINTED: Final = re.compile(r"^([0-9]+)[.,]0+$")
_PARTED: Final = re.compile(r"^[0-9]{1,3}(?:,[0-9]{3})+$")
_PLATE: Final = "Photograph the meter's plate."


@dataclass(slots=True)
class SerialState:
    """What the serial checks know of each row.

    ``meant`` is the serial that the row would have if every proposal were accepted; ``proposed`` the rows that have a
    proposal; ``blocked`` those whose serial cannot be used; ``spare`` how many listed meters they may hide.
    """

    meant: list[str | None]
    proposed: set[int] = field(default_factory=set)
    blocked: set[int] = field(default_factory=set)
    spare: int = 0


def whole_of_power(text: str) -> tuple[str | None, int]:
    """Return the digits of a number written with a power of ten, and how many of its last digits were lost.

    Never raises.

    Examples
    --------
    >>> whole_of_power("4.17733E+05"), whole_of_power("4.17733E+08"), whole_of_power("4.17733E+02")
    (('417733', 0), (None, 3), (None, 0))
    """
    found = _POWER.match(text)
    if found is None:
        return None, 0
    digits, power = found[1] + (found[2] or ""), int(found[3])
    lost = power + 1 - len(digits)
    return (digits, 0) if lost == 0 else (None, max(lost, 0))


def serial_flags(sheet: Sheet, listed: Listed, settings: SurveySettings) -> tuple[list[Raised], SerialState]:
    """Look at every serial.

    Parameters
    ----------
    sheet : Sheet
        The sites.
    listed : Listed
        Serials on record; may be empty.
    settings : SurveySettings
        Check digits, lengths, what is usual.

    Returns
    -------
    tuple
        What was raised, and the state that the checks against the list go on from. Never raises.

    Source
    ------
    Definition, and ``SurveySettings``.
    """
    state = SerialState(list(sheet.serial))
    on_list = set(listed.serial) | listed.extra
    raised = _printed(sheet, state)
    printed = {row: raised_by for raised_by in raised for row in raised_by.rows if raised_by.becomes}
    zeros = _zeros(sheet, state, on_list, settings, printed, whole=listed.whole)
    doubles = _doubles(sheet, state, listed)
    for item in [*raised, *zeros]:
        if item.becomes:
            # A proposal that would make two meters one is no proposal.
            _without(item, state.blocked)
    raised = [item for item in [*raised, *zeros] if item.rows]
    return [*raised, *doubles, *_check_digits(sheet, state, settings)], state


def _printed(sheet: Sheet, state: SerialState) -> list[Raised]:
    """Find serials that a spreadsheet turned into numbers; propose their digits where none is lost."""
    by_text: dict[str, list[int]] = {}
    for row, serial in enumerate(sheet.serial):
        if serial is not None and not serial.isdigit() and serial[0].isdigit():
            by_text.setdefault(serial, []).append(row)
    raised: list[Raised] = []
    for text, rows in by_text.items():
        digits, lost, how = None, 0, ""
        if _POWER.match(text) and ("+" in text or "." in text or "," in text):
            digits, lost = whole_of_power(text)
            how = "a spreadsheet wrote it as a power of ten"
        elif _POINTED.match(text):
            digits, how = _POINTED.sub(r"\1", text), "a spreadsheet took it for a number and wrote a decimal point"
        elif _PARTED.match(text):
            digits, how = text.replace(",", ""), "a spreadsheet took it for a number and parted its thousands"
        if not how:
            continue
        if digits is None:
            what = f"its last {lost} digits are lost" if lost else "it is no whole number"
            if lost == 1:
                what = "its last digit is lost"
            raised.append(
                Raised(
                    "scientific", text, "block", rows, "meter_serial",
                    f"{text} is no serial: {how}, and {what}.",
                    "Export the serials again as text from their source, or photograph the plate.",
                ))  # fmt: skip
            state.blocked.update(rows)
            state.spare += len(rows)
            for row in rows:
                state.meant[row] = None
            continue
        exact = "; all its digits are there" if "E" in text.upper() else ""
        raised.append(
            Raised(
                "scientific", text, "propose", rows, "meter_serial", f"{text} is {digits}: {how}{exact}.",
                f"{_PLATE} Zeros in front of it would be lost as well.", [digits] * len(rows), each=False, was=text,
            ))  # fmt: skip
        for row in rows:
            state.meant[row] = digits
            state.proposed.add(row)
    return raised


def _usual_lengths(sheet: Sheet, settings: SurveySettings) -> dict[str | None, int]:
    """Return the usual length of serials of digits, by meter type."""
    lengths: dict[str | None, Counter[int]] = {}
    for kind, serial in zip(sheet.kind, sheet.serial, strict=True):
        if serial is not None and serial.isdigit():
            lengths.setdefault(kind, Counter())[len(serial)] += 1
    found = {}
    for kind in set(sheet.kind):
        told = settings.serial_length.get(kind or "", settings.serial_length.get(""))
        if told is not None:
            found[kind] = told
            continue
        counts = lengths.get(kind)
        if counts is None:
            continue
        length, count = counts.most_common(1)[0]
        total = counts.total()
        if total >= settings.least_class and count >= settings.length_share * total:
            found[kind] = length
    return found


def _zeros(
    sheet: Sheet,
    state: SerialState,
    on_list: set[str],
    settings: SurveySettings,
    printed: dict[int, Raised],
    *,
    whole: bool,
) -> list[Raised]:
    """Propose leading zeros: one listed serial is this one but for zeros, or its type has longer serials."""
    by_stripped: dict[str, list[str]] = {}
    for serial in on_list:
        if serial.isdigit() and serial[0] == "0":
            by_stripped.setdefault(serial.lstrip("0"), []).append(serial)
    usual = _usual_lengths(sheet, settings)
    found: dict[tuple[str, str, str], list[int]] = {}
    for row, serial in enumerate(state.meant):
        if serial is None or not serial.isdigit() or serial in on_list:
            continue
        alike = [each for each in by_stripped.get(serial.lstrip("0"), ()) if len(each) > len(serial)]
        if len(alike) == 1:
            why = f"the list has {alike[0]}, the only serial that is {serial} with zeros in front"
            found.setdefault((sheet.serial[row] or "", alike[0], why), []).append(row)
            continue
        length = usual.get(sheet.kind[row])
        if alike or whole or length is None or not length / 2 <= len(serial) < length:
            continue
        kind = f"{sheet.kind[row]} serials" if sheet.kind[row] else "serials of this sheet"
        padded = serial.zfill(length)
        why = f"{kind} have {length} digits, and with zeros in front it is {padded}"
        found.setdefault((sheet.serial[row] or "", padded, why), []).append(row)
    raised = []
    for (text, padded, why), rows in found.items():
        before = printed.get(rows[0])
        if before is not None:
            # One cell, one proposal: the digits and the zeros are put back together.
            _without(before, set(rows))
        first = (
            f"{text} was turned into a number, and its leading zeros are lost" if before else f"{text} has lost zeros"
        )
        raised.append(
            Raised(
                "zeros", text, "propose", rows, "meter_serial", f"{first}: {why}.",
                f"{_PLATE} Does it read {padded}?", [padded] * len(rows), each=False, was=text,
            ))  # fmt: skip
        for row in rows:
            state.meant[row] = padded
            state.proposed.add(row)
    return raised


def _without(item: Raised, rows: set[int]) -> None:
    """Take rows out of what was raised."""
    kept = [place for place, row in enumerate(item.rows) if row not in rows]
    item.becomes = [item.becomes[place] for place in kept] if item.becomes else None
    item.rows = [item.rows[place] for place in kept]


def _doubles(sheet: Sheet, state: SerialState, listed: Listed) -> list[Raised]:
    """Find one serial on several rows that are not the two registers of one compound meter."""
    by_serial: dict[str, list[int]] = {}
    for row, serial in enumerate(state.meant):
        if serial is not None:
            by_serial.setdefault(serial, []).append(row)
    unmet = [serial for serial in dict.fromkeys(listed.serial) if serial not in by_serial] if listed.serial else []
    found = []
    for serial, rows in by_serial.items():
        if len(rows) == 1 or len({sheet.site[row] for row in rows}) == 1:
            continue
        sites = list(dict.fromkeys(sheet.called(row).removeprefix("site ") for row in rows))
        written = list(dict.fromkeys(str(sheet.serial[row]) for row in rows))
        as_written = "" if len(written) == 1 else f" (written {' and '.join(written[:3])})"
        near = _consecutive(sheet, rows)
        says = f"Sites {shown(sites)} have the same serial {serial}{as_written}" + (": copied down?" if near else ".")
        if 0 < len(unmet) <= 3:
            says += f" The list has {shown(unmet)}, which no row has."
        found.append(
            Raised(
                "duplicate", serial, "block", rows, "meter_serial", says,
                "Photograph the plate at each of these sites; write the serial that each one shows.",
            ))  # fmt: skip
        state.blocked.update(rows)
        state.proposed.difference_update(rows)
        state.spare += len(sites) - 1
    return found


def _consecutive(sheet: Sheet, rows: list[int]) -> bool:
    """Tell whether rows follow one another in the file."""
    lines = sorted(sheet.lines[row] for row in rows)
    return lines[-1] - lines[0] == len(lines) - 1


def _check_digits(sheet: Sheet, state: SerialState, settings: SurveySettings) -> list[Raised]:
    """Find serials that fail the scheme that the programme declares for their type."""
    if not settings.check_digit:
        return []
    raised = []
    rows_of: dict[tuple[str, str], list[int]] = {}
    for row, serial in enumerate(state.meant):
        scheme = settings.check_digit.get(sheet.kind[row] or "", settings.check_digit.get("", ""))
        if scheme and serial is not None and row not in state.blocked:
            rows_of.setdefault((serial, scheme), []).append(row)
    for (serial, scheme), rows in rows_of.items():
        if passes(serial, scheme):
            continue
        raised.append(
            Raised(
                "check_digit", serial, "ask", rows, "meter_serial",
                f"{serial} fails its check digit ({scheme}): some character of it is wrong.", _PLATE,
                each=False, was=sheet.serial[rows[0]] or "",
            ))  # fmt: skip
    return raised
