"""Units and pulse weights against their class, against each other, and against what is made."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable
from fractions import Fraction
from typing import Final

from dialtrue.domain.quantity import LITRES_PER_UNIT, UNITS
from dialtrue.domain.survey.settings import SurveySettings
from dialtrue.engine.survey.dials import least_digits
from dialtrue.engine.survey.sheet import Raised, Sheet, as_key, classes_of, grouped, plural, usual, usual_in_turn

_SYSTEM: Final = {
    "L": "metric", "m3": "metric", "gal": "gallons", "kgal": "gallons", "gal_imp": "imperial gallons",
    "ft3": "cubic feet", "ccf": "cubic feet", "acre_ft": "cubic feet",
}  # fmt: skip
_FACE: Final = "Photograph the dial's face with its unit."
_LABEL: Final = "Photograph the label that gives the volume per pulse."


def unit_flags(sheet: Sheet, settings: SurveySettings) -> list[Raised]:
    """Look at units and weights.

    Parameters
    ----------
    sheet : Sheet
        The sites.
    settings : SurveySettings
        What is usual; which weights are made.

    Returns
    -------
    list of Raised
        Questions only: a unit is never converted by guess. Never raises.

    Source
    ------
    ``NIST-SP-811`` for the units; which weights are made is our assumption, see ``SurveySettings``.
    """
    classes, names = classes_of(sheet)
    raised: list[Raised] = []
    odd_units: set[int] = set()
    for column, values, ask in (("dial_unit", sheet.dial_unit, _FACE), ("pulse_unit", sheet.pulse_unit, _LABEL)):
        found = usual(classes, values, settings)
        odd_units.update(found.odd)
        for (key, value), rows in grouped([(classes[r], values[r]) for r in found.odd], found.odd).items():
            usual_value, total = found.value[key], found.count[key]
            raised.append(
                Raised(
                    "unit_odd", f"{column}={value}:{as_key(names[key])}", "ask", rows, column,
                    f"{plural(len(rows), 'row')} of {total:,} {names[key]} {'has' if len(rows) == 1 else 'have'} "
                    f"{column} {value}; the usual one is {usual_value}.", ask,
                ))  # fmt: skip
    mixed = _mixed(sheet, odd_units)
    raised += mixed
    odd_units.update(row for item in mixed for row in item.rows)
    made = _not_made(sheet, settings)
    raised += made
    doubted = odd_units | {row for item in made for row in item.rows}
    odd = _odd_weights(sheet, classes, names, settings, doubted)
    doubted |= {row for item in odd for row in item.rows}
    return [*raised, *odd, *_rare_weights(sheet, settings, doubted)]


def step_flags(sheet: Sheet, settings: SurveySettings, *, in_doubt: set[int]) -> list[Raised]:
    """Find pulses that are not the usual multiple of the dial's least digit: a decade slip where weights differ.

    Parameters
    ----------
    sheet : Sheet
        The sites.
    settings : SurveySettings
        What is usual.
    in_doubt : set of int
        Rows whose unit, weight or dial is asked about already.

    Returns
    -------
    list of Raised
        Questions only. Never raises.

    Source
    ------
    Our assumption: the pulse of a class is made from the same wheel of the register.
    """
    classes, names = classes_of(sheet)
    worked: dict[tuple[int, str | None, float, str | None], float | None] = {}
    steps: list[float | None] = []
    least = least_digits(sheet)
    for weight, unit, digit, dial in zip(sheet.weight, sheet.pulse_unit, least, sheet.dial_unit, strict=True):
        key = (id(weight), unit, -1.0 if digit is None else float(digit), dial)
        if key not in worked:
            whole = weight is not None and unit is not None and digit is not None and dial is not None and digit > 0
            ratio = weight * LITRES_PER_UNIT[unit] / (digit * LITRES_PER_UNIT[dial]) if whole else None  # type: ignore[index, operator]
            worked[key] = None if ratio is None else float(ratio)
        steps.append(worked[key])
    wide: list[Hashable] = list(zip(sheet.size, sheet.role, strict=True))
    found = usual_in_turn([list(classes), wide], list(steps), settings, skip=in_doubt)
    keys = [
        (names[classes[row]], sheet.weight[row], sheet.pulse_unit[row], float(least[row] or 0), sheet.dial_unit[row],
         value, count)
        for row, _, value, count in found
    ]  # fmt: skip
    raised = []
    for (name, weight, unit, digit, dial, value, count), rows in grouped(keys, [row for row, *_ in found]).items():
        raised.append(
            Raised(
                "weight_odd", f"{float(weight):g}-{unit}-on-{digit:g}:{as_key(name)}", "ask", rows, "pulse_weight",
                f"{plural(len(rows), 'row')} ({name}) {'has' if len(rows) == 1 else 'have'} {float(weight):g} {unit} a "
                f"pulse on a dial whose least moving digit is {digit:g} {dial}; usual in its class ({count:,} rows) is "
                f"{value:g} of that digit.", _LABEL,
            ))  # fmt: skip
    return raised


def _mixed(sheet: Sheet, skip: set[int]) -> list[Raised]:
    """Find a dial in one system of units and a pulse in another."""
    pairs: dict[tuple[str, str], list[int]] = {}
    for row, (dial, pulse) in enumerate(zip(sheet.dial_unit, sheet.pulse_unit, strict=True)):
        if dial and pulse and _SYSTEM[dial] != _SYSTEM[pulse] and row not in skip:
            pairs.setdefault((dial, pulse), []).append(row)
    return [
        Raised(
            "unit_mixed", f"{dial}-{pulse}", "ask", rows, "pulse_unit",
            f"{plural(len(rows), 'row')} {'has' if len(rows) == 1 else 'have'} a dial in {dial} and a pulse in "
            f"{pulse}: one may be typed wrongly.", f"{_FACE} {_LABEL}",
        )
        for (dial, pulse), rows in pairs.items()
    ]  # fmt: skip


def is_made(weight: Fraction, settings: SurveySettings) -> bool:
    """Tell whether a pulse weight is a usual first figure times a power of ten. Never raises for one above zero.

    Source
    ------
    Our assumption, see ``SurveySettings.weight_leads``.

    Examples
    --------
    >>> [is_made(Fraction(text), SurveySettings()) for text in ("0.1", "0.25", "2.5", "100", "3", "7.48")]
    [True, True, True, True, False, False]
    """
    lead = weight
    while lead >= 10:
        lead /= 10
    while lead < 1:
        lead *= 10
    return lead in settings.weight_leads


def _not_made(sheet: Sheet, settings: SurveySettings) -> list[Raised]:
    """Find weights that nobody makes in their unit, and say which made one they come near to in another unit."""
    pairs: dict[tuple[int, str], list[int]] = {}
    for row, (weight, unit) in enumerate(zip(sheet.weight, sheet.pulse_unit, strict=True)):
        if weight is not None and unit:
            pairs.setdefault((id(weight), unit), []).append(row)
    raised = []
    for (_, unit), rows in pairs.items():
        weight = sheet.weight[rows[0]]
        if weight is None or weight <= 0 or is_made(weight, settings):
            continue
        shown = f"{float(weight):g} {unit}"
        twin = _twin(weight, unit, settings)
        hint = f"; it is {twin} converted" if twin else ""
        raised.append(
            Raised(
                "weight", f"{float(weight):g}-{unit}", "ask", rows, "pulse_weight",
                f"No pulse weight of {shown} is usual ({plural(len(rows), 'row')}){hint}.",
                f"{_LABEL} Write weight and unit as they stand there.",
            ))  # fmt: skip
    return raised


def _twin(weight: Fraction, unit: str, settings: SurveySettings) -> str:
    """Return the made weight in another unit that a weight is within half a percent of, or a blank."""
    litres = weight * LITRES_PER_UNIT[unit]
    for other in ("gal", "ft3", "L", "m3", "gal_imp"):
        if _SYSTEM[other] == _SYSTEM[unit]:
            continue
        value = litres / LITRES_PER_UNIT[other]
        scale = Fraction(1)
        while value >= 10 * scale:
            scale *= 10
        while value < scale:
            scale /= 10
        for lead in (*settings.weight_leads, Fraction(10)):
            if abs(value / scale - lead) <= lead / 200:
                return f"{float(lead * scale):g} {other}"
    return ""


def _odd_weights(
    sheet: Sheet, classes: list[int], names: list[str], settings: SurveySettings, skip: set[int]
) -> list[Raised]:
    """Find weights that are not the usual one of their class, by volume."""
    litres = _volumes(sheet)
    found = usual(classes, litres, settings, skip=skip)
    raised = []
    words = {value: _weight_words(sheet, litres, value) for value in set(found.value.values())}
    keys = [(classes[row], sheet.weight[row], sheet.pulse_unit[row]) for row in found.odd]
    for (key, weight, unit), rows in grouped(keys, found.odd).items():
        raised.append(
            Raised(
                "weight_odd", f"{float(weight):g}-{unit}:{as_key(names[key])}", "ask", rows, "pulse_weight",
                f"{plural(len(rows), 'row')} of {found.count[key]:,} {names[key]} "
                f"{'has' if len(rows) == 1 else 'have'} {float(weight):g} {unit} a pulse; the usual weight is "
                f"{words[found.value[key]]}.", _LABEL,
            ))  # fmt: skip
    return raised


def _rare_weights(sheet: Sheet, settings: SurveySettings, skip: set[int]) -> list[Raised]:
    """Find weights that hardly any meter of a size has, where sizes have several weights."""
    classes = list(zip(sheet.size, sheet.role, sheet.pulse_unit, strict=True))
    volumes = _volumes(sheet)
    total = Counter(key for key, volume in zip(classes, volumes, strict=True) if volume is not None)
    count = Counter(pair for pair in zip(classes, volumes, strict=True) if pair[1] is not None)
    rows_of: dict[Hashable, list[int]] = {}
    for row, pair in enumerate(zip(classes, volumes, strict=True)):
        if row not in skip and 0 < count[pair] <= settings.rare_share * total[pair[0]]:
            rows_of.setdefault(pair, []).append(row)
    raised = []
    for rows in rows_of.values():
        size, role, unit = classes[rows[0]]
        of = f"{size or 'meters of no stated size'}" + ("" if role == "single" else f" ({role})")
        weight = f"{float(sheet.weight[rows[0]] or 0):g} {unit}"
        raised.append(
            Raised(
                "weight_odd", f"rare:{weight.replace(' ', '-')}:{as_key(of)}", "ask", rows, "pulse_weight",
                f"Only {plural(len(rows), 'row')} of {total[classes[rows[0]]]:,} {of} in {unit} "
                f"{'has' if len(rows) == 1 else 'have'} {weight} a pulse.", _LABEL,
            ))  # fmt: skip
    return raised


def _volumes(sheet: Sheet) -> list[int | None]:
    """Return a number for the volume per pulse of each row, the same for the same volume in any unit.

    Equal texts share one exact number, so each pair of weight and unit is worked out once.
    """
    worked: dict[tuple[int, str | None], int | None] = {}
    number: dict[Fraction, int] = {}
    out: list[int | None] = []
    for weight, unit in zip(sheet.weight, sheet.pulse_unit, strict=True):
        key = (id(weight), unit)
        if key not in worked:
            volume = None if weight is None or unit is None else weight * LITRES_PER_UNIT[unit]
            worked[key] = None if volume is None else number.setdefault(volume, len(number))
        out.append(worked[key])
    return out


def _weight_words(sheet: Sheet, litres: list[int | None], value: Hashable) -> str:
    """Write a volume as most rows of the sheet write it."""
    written = Counter(
        (sheet.weight[row], sheet.pulse_unit[row]) for row, volume in enumerate(litres) if volume == value
    )
    (weight, unit), _ = written.most_common(1)[0]
    return f"{float(weight or 0):g} {unit}"


WORDS: Final[dict[str, str]] = {
    "gallon": "gal", "gallons": "gal", "usg": "gal", "usgal": "gal", "us_gal": "gal", "us_gallons": "gal",
    "gals": "gal",
    "litre": "L", "litres": "L", "liter": "L", "liters": "L", "ltr": "L", "lt": "L",
    "cubic_feet": "ft3", "cubic_foot": "ft3", "cu_ft": "ft3", "cuft": "ft3", "ft^3": "ft3",
    "hcf": "ccf", "100cf": "ccf", "100_cf": "ccf", "100_cu_ft": "ccf", "100ft3": "ccf", "100_ft3": "ccf",
    "cubic_metres": "m3", "cubic_meters": "m3", "cubic_metre": "m3", "cubic_meter": "m3", "cu_m": "m3", "cbm": "m3",
    "m^3": "m3", "kgals": "kgal", "1000gal": "kgal", "1000_gal": "kgal", "1000_gallons": "kgal", "tgal": "kgal",
    "imp_gal": "gal_imp", "imperial_gallons": "gal_imp", "igal": "gal_imp", "uk_gal": "gal_imp",
    "acre_feet": "acre_ft", "acre_foot": "acre_ft",
}  # fmt: skip
"""Words for units that mean one thing. ``cf``, ``M``, ``MG`` are not among them: they mean two. Our assumption."""

DOUBTFUL: Final[dict[str, str]] = {
    "cf": "CF may mean cubic feet (ft3) or hundreds of them (ccf)",
    "m": "M may mean cubic metres or thousands",
    "mg": "MG means million gallons to some and thousands to others",
    "mgal": "it means million gallons to some and thousands to others",
    "g": "it may be gallons of two kinds",
}
"""Words for units that mean more than one thing. Source: the traps of common practice."""

assert set(WORDS.values()) <= set(UNITS)
