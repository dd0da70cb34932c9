"""Expected use and billed use against each other and within a class: ratios that are those of two units."""

from __future__ import annotations

from collections.abc import Hashable
from typing import Final

import numpy as np

from dialtrue.domain.errors import UnknownMeterSize
from dialtrue.domain.pulse_chain.timing import flow_limits
from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.domain.survey.settings import SurveySettings
from dialtrue.engine.survey.sheet import Floats, Raised, Sheet, Texts, plural

_L = {name: float(value) for name, value in LITRES_PER_UNIT.items()}
RATIOS: Final[dict[str, float]] = {
    "ccf and ft3": 100.0,
    "gal and ft3": _L["ft3"] / _L["gal"],
    "L and gal": _L["gal"],
    "gal and gal_imp": _L["gal_imp"] / _L["gal"],
    "L and gal_imp": _L["gal_imp"],
    "L and ft3": _L["ft3"],
    "ft3 and m3": 1000.0 / _L["ft3"],
    "gal and m3": 1000.0 / _L["gal"],
    "L and m3": 1000.0,
    "gal and ccf": _L["ccf"] / _L["gal"],
}
"""Ratios above one of two units that are taken for each other. Source: ``NIST-SP-811``."""
_FROM: Final = 2.0
"""Least ratio that says something about a single meter. Our assumption: below it people's use differs as much."""
_RING: Final = 2.5
"""Rows up to so many tolerances away tell how many lie near a ratio by chance. Our assumption."""
_WIDE: Final = 0.4
"""Scatter of expected against billed use from which it says nothing. [-, logarithm] Our assumption."""
_MOST_NEAR: Final = 0.3
"""Widest tolerance, below the ratio of litres and gallons. [-, logarithm] Our assumption."""
_ONE_IN: Final = 0.3
"""A group's median may lie so many decades from a ratio. Our assumption: spread of use within a size."""


def use_flags(sheet: Sheet, settings: SurveySettings, billed_l_per_day: Floats, billed_unit: Texts) -> list[Raised]:
    """Look at use.

    Parameters
    ----------
    sheet : Sheet
        The sites; ``use_l_per_day`` is what is expected.
    settings : SurveySettings
        ``ratio_tolerance`` and ``least_class``.
    billed_l_per_day : ndarray
        Mean use over the billed periods, NaN where there are none. [L/day]
    billed_unit : list
        The unit in which each row's use was billed.

    Returns
    -------
    list of Raised
        Questions only. Never raises.

    Source
    ------
    ``NIST-SP-811`` for the ratios; ``US-FLOW-LIMITS`` and ``OIML-R49`` for the flow, of which half is our assumption.
    """
    return [
        *_too_much(sheet, billed_l_per_day),
        *_expected(sheet, settings, billed_l_per_day, billed_unit),
        *_units(sheet, settings, billed_l_per_day, billed_unit),
    ]


def _too_much(sheet: Sheet, billed: Floats) -> list[Raised]:
    """Find uses that would ask the meter for more than half of its full flow, day and night."""
    most = {size: _most_l_per_day(size) for size in set(sheet.size)}
    limit = np.array([most[size] for size in sheet.size], np.float64)
    raised = []
    for what, column, values in (("billed", "", billed), ("expected", "use_l_per_day", sheet.use_l_per_day)):
        by_size: dict[str | None, list[int]] = {}
        for row in np.flatnonzero(values > limit).tolist():
            by_size.setdefault(sheet.size[row], []).append(row)
        for size, rows in by_size.items():
            raised.append(
                Raised(
                    "use_flow", f"{what}:{size}", "ask", rows, column,
                    f"{plural(len(rows), 'row')}: the {what} use is more than half of what a {size} meter passes at "
                    f"full flow day and night ({most[size]:,.0f} L a day): is its unit a smaller one?",
                    "Ask billing for the unit; read the dial twice, a day apart.",
                ))  # fmt: skip
    return raised


def _most_l_per_day(size: str | None) -> float:
    """Return half of a size's greatest flow over a day, infinite where the size is not known. [L/day]"""
    try:
        return np.inf if size is None else float(flow_limits(size).max_flow_lpm) * 1440.0 / 2.0
    except UnknownMeterSize:
        return np.inf


def _ratios(sheet: Sheet, billed_unit: Texts) -> dict[str, float]:
    """Return the ratios that may be met: imperial gallons only where the programme has them."""
    imperial = any("gal_imp" in column for column in (sheet.dial_unit, sheet.pulse_unit, billed_unit))
    return {pair: value for pair, value in RATIOS.items() if imperial or "imp" not in pair}


def _expected(sheet: Sheet, settings: SurveySettings, billed: Floats, unit: Texts) -> list[Raised]:
    """Find rows whose expected use is the billed use times the ratio of two units."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = sheet.use_l_per_day / billed
    ratio[~np.isfinite(ratio) | (ratio <= 0)] = np.nan
    both = int(np.isfinite(ratio).sum())
    spread = np.log(ratio)
    near_enough = _near_enough(spread, settings)
    raised = []
    taken = np.zeros(sheet.rows, bool)
    for pair, factor in _ratios(sheet, unit).items():
        for value in (factor, 1.0 / factor):
            off = np.abs(spread - np.log(value)) / near_enough
            near = ~taken & (off <= 1.0)
            rows = np.flatnonzero(near).tolist()
            # Where use differs widely some rows lie near any ratio: those a little farther off tell how many.
            chance = float(((off > 1.0) & (off <= _RING)).sum()) / (_RING - 1.0)
            if not rows or len(rows) < chance + 3.0 * np.sqrt(chance):
                continue
            # A small ratio says nothing of a single meter; of half the sheet it does.
            if factor < _FROM and len(rows) < max(settings.least_class, both / 2):
                continue
            taken |= near
            raised.append(
                Raised(
                    "unit_ratio", f"{value:.4g}", "ask", rows, "use_l_per_day",
                    f"{plural(len(rows), 'row')}: the expected use is {value:.4g} times the billed use, the ratio of "
                    f"{pair}: one of the two may be in another unit.", "Ask billing for the unit of the use history.",
                ))  # fmt: skip
    return raised


def _near_enough(spread: Floats, settings: SurveySettings) -> float:
    """Return how near a ratio must lie, as a logarithm: twice the usual scatter of expected against billed use.

    Source: our assumption; the scatter is 1.48 times the median deviation. Where it is wide, or hardly any row has both
    figures, only a ratio to the digit says something.
    """
    known = spread[np.isfinite(spread)]
    if len(known) < settings.least_class:
        return settings.ratio_tolerance
    scatter = 1.4826 * float(np.median(np.abs(known - np.median(known))))
    return (
        settings.ratio_tolerance if scatter > _WIDE else min(max(2.0 * scatter, settings.ratio_tolerance), _MOST_NEAR)
    )


def _units(sheet: Sheet, settings: SurveySettings, billed: Floats, unit: Texts) -> list[Raised]:
    """Find a unit whose meters use a unit's ratio more or less than the other meters of their size."""
    with np.errstate(divide="ignore", invalid="ignore"):
        decades = np.where(billed > 0, np.log10(np.where(billed > 0, billed, 1.0)), np.nan)
    cells: dict[tuple[Hashable, str], list[int]] = {}
    by_size: dict[Hashable, list[int]] = {}
    for row in np.flatnonzero(np.isfinite(decades)).tolist():
        cells.setdefault((sheet.size[row], str(unit[row])), []).append(row)
        by_size.setdefault(sheet.size[row], []).append(row)
    raised = []
    ratios = _ratios(sheet, unit)
    for (size, name), rows in cells.items():
        inside = set(rows)
        others = [row for row in by_size[size] if row not in inside]
        if len(rows) < settings.least_class or len(others) < len(rows):
            continue
        gap = float(np.median(decades[rows]) - np.median(decades[others]))
        near = min(ratios, key=lambda pair: abs(abs(gap) - np.log10(ratios[pair])))
        if abs(gap) < np.log10(5.0) or abs(abs(gap) - np.log10(ratios[near])) > _ONE_IN:
            continue
        word = "more" if gap > 0 else "less"
        hint = " Does its CF mean CCF?" if name == "ft3" and gap < 0 and near == "ccf and ft3" else ""
        raised.append(
            Raised(
                "history_unit", f"{name}:{size}", "ask", rows, "",
                f"{plural(len(rows), f'{size} meter')} billed in {name} use {10 ** abs(gap):,.3g} times {word} than "
                f"the others of that size, about the ratio of {near}.{hint}",
                "Ask billing what the unit column means, and put it right for the whole file.",
            ))  # fmt: skip
    return raised
