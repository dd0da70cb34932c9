"""Dials against the meter's size, against the digits that were read, and against their class."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from fractions import Fraction
from typing import Final

from dialtrue.domain.errors import UnknownMeterSize
from dialtrue.domain.pulse_chain.timing import FlowLimits, flow_limits
from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.domain.survey.settings import SurveySettings
from dialtrue.engine.survey.sheet import Raised, Sheet, as_key, classes_of, grouped, plural, usual, usual_in_turn

_COUNT: Final = "Photograph the dial; count the moving digits and the painted zeros, and read the unit."
_MARGIN: Final = Fraction(99, 100)
"""The printed table of ``OIML-R49`` rounds 10,080 m3 to 9,999: a dial of that many digits fits."""

Size = dict[str | None, FlowLimits | None]


def dial_flags(
    sheet: Sheet, settings: SurveySettings, seen_lengths: Mapping[tuple[str, str], int], *, units_in_doubt: set[int]
) -> list[Raised]:
    """Look at dials.

    Parameters
    ----------
    sheet : Sheet
        The sites.
    settings : SurveySettings
        How long a dial must last, and how much is too much.
    seen_lengths : mapping
        Positions of dials that were read before, by serial and register: the greatest number of characters.
    units_in_doubt : set of int
        Rows whose dial unit is asked about already: their dial is not held against its class as well.

    Returns
    -------
    list of Raised
        Questions only. Never raises.

    Source
    ------
    ``OIML-R49``: at least 1600 h at Q3 without passing zero; ``US-FLOW-LIMITS`` with a share that is our assumption.
    """
    sizes: Size = {}
    for size in set(sheet.size):
        try:
            sizes[size] = None if size is None else flow_limits(size)
        except UnknownMeterSize:
            sizes[size] = None
    raised = _misfits(sheet, sizes, settings)
    doubted = units_in_doubt | {row for item in raised for row in item.rows}
    painted = _painted(sheet, seen_lengths, doubted)
    doubted |= {row for item in painted for row in item.rows}
    reach = _odd_reach(sheet, settings, doubted)
    doubted |= {row for item in reach for row in item.rows}
    return [*_unknown_sizes(sheet, sizes), *raised, *painted, *reach, *_odd(sheet, settings, doubted)]


def _unknown_sizes(sheet: Sheet, sizes: Size) -> list[Raised]:
    """Find sizes that no table knows, and propose the contract's spelling where there is one."""
    rows_of: dict[str, list[int]] = {}
    for row, size in enumerate(sheet.size):
        if size is not None and sizes[size] is None:
            rows_of.setdefault(size, []).append(row)
    raised = []
    for size, rows in rows_of.items():
        spelled = spelled_size(size)
        gives = "gives" if len(rows) == 1 else "give"
        says = f"{plural(len(rows), 'row')} {gives} the size {size!r}, which no table knows"
        raised.append(
            Raised(
                "size", size, "propose" if spelled else "ask", rows, "meter_size",
                f"{says}; it may be spelled {spelled}." if spelled else f"{says}.",
                "Read the size on the meter's body.", [spelled] * len(rows) if spelled else None, each=False, was=size,
            ))  # fmt: skip
    return raised


_DECIMAL: Final = {
    "5/8": "5/8in", ".625": "5/8in", "0.625": "5/8in", "3/4": "3/4in", ".75": "3/4in", "0.75": "3/4in", "1": "1in",
    "1.0": "1in", "1.5": "1-1/2in", "1 1/2": "1-1/2in", "1-1/2": "1-1/2in", "1½": "1-1/2in", "2": "2in", "2.0": "2in",
    "3": "3in", "4": "4in", "6": "6in", "¾": "3/4in", "⅝": "5/8in",
}  # fmt: skip


def spelled_size(text: str) -> str:
    """Return the contract's spelling of a size written another way, or a blank where it is not one that is known.

    Never raises.

    Source
    ------
    Our assumption: a bare number up to 6 is in inches, ``mm`` or a bare 15, 20, 25 … is a nominal diameter.

    Examples
    --------
    >>> spelled_size('5/8"'), spelled_size("1.5 inch"), spelled_size("15 mm"), spelled_size("large")
    ('5/8in', '1-1/2in', 'DN15', '')
    """
    folded = text.casefold().replace("''", '"').strip()
    bare = folded
    for ending in ("inches", "inch", "in.", "in", '"', "”"):
        if bare.endswith(ending):
            bare = bare[: -len(ending)].strip(" -")
            break
    if bare in _DECIMAL:
        return _DECIMAL[bare]
    number = folded.removeprefix("dn").removesuffix("mm").strip(" -")
    spelled = f"DN{number}"
    try:
        flow_limits(spelled)
    except UnknownMeterSize:
        return ""
    return spelled


def _misfits(sheet: Sheet, sizes: Size, settings: SurveySettings) -> list[Raised]:
    """Find dials that would turn over too soon at full flow, or never within any meter's life."""
    rows_of: dict[Hashable, list[int]] = {}
    keys = zip(sheet.size, sheet.digits.tolist(), sheet.zeros.tolist(), sheet.dial_unit, sheet.resolution, strict=True)
    for row, key in enumerate(keys):
        if sizes[key[0]] is not None and key[1] == key[1] and key[3]:
            rows_of.setdefault((*key, sheet.role[row] == "low"), []).append(row)
    raised = []
    for (size, digits, zeros, unit, resolution, low), rows in rows_of.items():
        limits = sizes[size]
        # The low side of a compound meter is a smaller meter than its size says: only too large a dial shows there.
        if limits is None:
            continue
        least = resolution if resolution is not None else Fraction(10) ** int(zeros if zeros == zeros else 0)
        holds_l = 10 ** int(digits) * least * LITRES_PER_UNIT[unit]
        flow = limits.max_flow_lpm * settings.us_flow_share if limits.source == "US-FLOW-LIMITS" else limits.q3_lpm
        needs_l = flow * 60 * settings.dial_hours
        hours = float(holds_l / flow / 60)
        small = holds_l < needs_l * _MARGIN and not low
        if not small and holds_l <= needs_l * settings.most_dial_ratio:
            continue
        painted = f" and {plural(int(zeros), 'painted zero')}" if zeros == zeros and zeros else ""
        dial = f"{plural(int(digits), 'moving digit')}{painted} in {unit}"
        lasts = f"{hours:,.0f} h" if hours < 20_000 else f"{hours / 8766:,.0f} years"
        doubt = (
            "it would turn over too soon: is a digit or a painted zero missing, or the unit a smaller one?" if small
            else "no meter needs so much: is a digit too many, or does the dial show decimals?"
        )  # fmt: skip
        raised.append(
            Raised(
                "dial_size", f"{size}:{int(digits)}-{int(zeros if zeros == zeros else 0)}-{unit}", "ask", rows,
                "dial_digits",
                f"A {size} meter at full flow fills a dial of {dial} in {lasts} ({plural(len(rows), 'row')}): {doubt}",
                _COUNT,
            ))  # fmt: skip
    return raised


def _painted(sheet: Sheet, seen: Mapping[tuple[str, str], int], skip: set[int]) -> list[Raised]:
    """Find dials whose digits and painted zeros are not as many as the positions that were read before."""
    raised = []
    for row, serial in enumerate(sheet.serial) if seen else ():
        length = seen.get((serial or "", sheet.role[row]))
        digits, zeros = sheet.digits[row], sheet.zeros[row]
        if length is None or digits != digits or row in skip:
            continue
        total = int(digits) + int(zeros if zeros == zeros else 0)
        if length != total:
            raised.append(
                Raised(
                    "painted_zero", "", "ask", [row], "fixed_zeros",
                    f"Meter {serial}: {plural(total, 'position')} by the survey, {length} in dials read before: "
                    "was a painted zero left out or a decimal counted?", _COUNT,
                ))  # fmt: skip
    return raised


def least_digits(sheet: Sheet) -> list[Fraction | None]:
    """Return the value of each row's least moving digit in dial units, None where it is not known. Never raises."""
    powers = {zeros: Fraction(10) ** zeros for zeros in range(7)}
    return [
        resolution if resolution is not None else powers.get(int(zeros)) if zeros == zeros else None
        for resolution, zeros in zip(sheet.resolution, sheet.zeros.tolist(), strict=True)
    ]


def _odd_reach(sheet: Sheet, settings: SurveySettings, skip: set[int]) -> list[Raised]:
    """Find dials that hold ten times more or less than the usual one of their class and unit, whatever their face."""
    codes, names = classes_of(sheet)
    known: dict[tuple[float, int], Fraction] = {}
    reach: list[Hashable | None] = []
    for digits, least in zip(sheet.digits.tolist(), least_digits(sheet), strict=True):
        if digits != digits or least is None:
            reach.append(None)
            continue
        key = (digits, id(least))
        if key not in known:
            known[key] = 10 ** int(digits) * least
        reach.append(float(known[key]))
    layers: list[list[Hashable]] = [
        list(zip(codes, sheet.dial_unit, strict=True)),
        list(zip(sheet.size, sheet.role, sheet.dial_unit, strict=True)),
    ]
    found = usual_in_turn(layers, reach, settings, skip=skip)
    keys = [(names[codes[row]], sheet.dial_unit[row], reach[row], value, count) for row, _, value, count in found]
    raised = []
    for (name, unit, holds, value, count), rows in grouped(keys, [row for row, *_ in found]).items():
        raised.append(
            Raised(
                "dial_odd", f"{holds:.0f}-{unit}:{as_key(name)}", "ask", rows, "dial_digits",
                f"{plural(len(rows), 'row')} ({name}) {'has' if len(rows) == 1 else 'have'} a dial that holds "
                f"{holds:,.0f} {unit}; the usual one of its class ({count:,} rows) holds {value:,.0f} {unit}: is a "
                "digit or a painted zero too many or too few?", _COUNT,
            ))  # fmt: skip
    return raised


def _odd(sheet: Sheet, settings: SurveySettings, skip: set[int]) -> list[Raised]:
    """Find dials that are not the usual one of their class and unit."""
    codes, names = classes_of(sheet)
    classes: list[Hashable] = list(zip(codes, sheet.dial_unit, strict=True))
    faces: list[Hashable | None] = [
        None if digits != digits else (int(digits), int(zeros if zeros == zeros else 0), resolution)
        for digits, zeros, resolution in zip(sheet.digits.tolist(), sheet.zeros.tolist(), sheet.resolution, strict=True)
    ]
    found = usual(classes, faces, settings, skip=skip)
    raised = []
    for (key, face), rows in grouped([(classes[row], faces[row]) for row in found.odd], found.odd).items():
        usual_face, (kind, _) = found.value[key], key
        moved = face[0] + face[1] == usual_face[0] + usual_face[1] and face != usual_face
        hint = " Was a painted zero counted as a moving digit, or the other way round?" if moved else ""
        raised.append(
            Raised(
                "dial_odd", f"{_face_key(face)}:{as_key(names[kind])}", "ask", rows, "dial_digits",
                f"{plural(len(rows), 'row')} of {found.count[key]:,} {names[kind]} "
                f"{'has' if len(rows) == 1 else 'have'} {face_words(face)}; "
                f"the usual is {face_words(usual_face)}.{hint}",
                _COUNT,
            ))  # fmt: skip
    return raised


def _face_key(face: tuple[int, int, Fraction | None]) -> str:
    """Write a dial's face as part of a key: ``6+1``."""
    return f"{face[0]}+{face[1]}" + ("" if face[2] is None else f"@{float(face[2]):g}")


def face_words(face: tuple[int, int, Fraction | None]) -> str:
    """Say a dial's face: moving digits, painted zeros, resolution. Never raises.

    Examples
    --------
    >>> face_words((6, 1, None)), face_words((8, 0, Fraction(1, 10)))
    ('6 moving + 1 painted', '8 moving + 0 painted, least 0.1')
    """
    least = "" if face[2] is None else f", least {float(face[2]):g}"
    return f"{face[0]} moving + {face[1]} painted{least}"
