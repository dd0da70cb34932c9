"""Coordinates: exchanged, a sign lost, at 0/0, or far from all others."""

from __future__ import annotations

import re

import numpy as np
import numpy.typing as npt

from dialtrue.domain.survey.repair_line import BLANK
from dialtrue.domain.survey.settings import SurveySettings
from dialtrue.engine.survey.sheet import Floats, Raised, Sheet, capital, plural

_NUMBER = re.compile(r"\d+")
_FLATS = 3
"""Most rows with one position that are taken for a slip. Our assumption: more are flats, or the middle of a street."""
_KM_PER_DEGREE = 111.2
"""Length of a degree of latitude. [km] Source: definition, a quarter of the meridian is 10,002 km."""
_PIN = "Take the position again at the meter, or find the address on the map."
_FEWEST = 3
"""Fewest places from which a middle is taken. Our assumption."""
_NEAR = 0.2
"""A put-right place must be this share nearer than it was. Our assumption: a slip moves a place by hundreds of km."""


def place_flags(sheet: Sheet, settings: SurveySettings, written: list[str]) -> list[Raised]:
    """Look at coordinates.

    Parameters
    ----------
    sheet : Sheet
        The sites; coordinates off the Earth are kept as numbers, since exchanged ones may be.
    settings : SurveySettings
        ``far_km``.
    written : list of str
        Each row's ``latitude, longitude`` as written.

    Returns
    -------
    list of Raised
        Exchanges and signs are proposed only where the place then lies among the others. Never raises.

    Source
    ------
    Our assumption: the middle is the median, so that up to half of the places may be wrong; see ``SurveySettings``.
    """
    lat, lon = sheet.latitude, sheet.longitude
    known = np.isfinite(lat) & np.isfinite(lon)
    zero = known & (np.abs(lat) < 1e-3) & (np.abs(lon) < 1e-3)
    raised = [
        Raised(
            "nowhere", "", "propose", [row], "latitude, longitude",
            f"{capital(sheet.called(row))} is at 0, 0, in the sea off Africa: the position was never taken.", _PIN,
            [f"{BLANK}, {BLANK}"],
        )
        for row in np.flatnonzero(zero).tolist()
    ]  # fmt: skip
    raised += _copied(sheet, known & ~zero)
    on_earth = known & ~zero & (np.abs(lat) <= 90) & (np.abs(lon) <= 180)
    if on_earth.sum() < _FEWEST:
        return raised
    middle = float(np.median(lat[on_earth])), float(np.median(lon[on_earth]))
    away = _km(lat, lon, middle)
    usual = float(np.median(away[on_earth]))
    limit = max(settings.far_km, 10.0 * usual)
    for row in np.flatnonzero(known & ~zero & ((away > limit) | ~on_earth)).tolist():
        raised.append(_far(sheet, row, middle, limit, float(away[row]), written[row]))
    return raised


def _copied(sheet: Sheet, known: npt.NDArray[np.bool_]) -> list[Raised]:
    """Find rows that follow one another with one position and several house numbers: copied down.

    A house with several meters has one number, and a row of flats more than ``_FLATS`` meters; neither is asked about.
    """
    by_place: dict[tuple[float, float], list[int]] = {}
    for row in np.flatnonzero(known).tolist():
        by_place.setdefault((float(sheet.latitude[row]), float(sheet.longitude[row])), []).append(row)
    copied: list[int] = []
    for rows in by_place.values():
        lines = [sheet.lines[row] for row in rows]
        houses = {found[0] for row in rows if (found := _NUMBER.search(sheet.address[row] or ""))}
        if 1 < len(rows) <= _FLATS and max(lines) - min(lines) == len(lines) - 1 and len(houses) == len(rows):
            copied += rows
    if not copied:
        return []
    copied.sort()
    return [
        Raised(
            "copied_place", "", "ask", copied, "latitude, longitude",
            f"{plural(len(copied), 'row')} have the position of their neighbour to the last digit but another house "
            "number: copied down?", _PIN,
        )
    ]  # fmt: skip


def _km(lat: Floats, lon: Floats, middle: tuple[float, float]) -> Floats:
    """Return rough distances from a middle, good enough to tell a town from another continent. [km]"""
    turned = (lon - middle[1] + 180.0) % 360.0 - 180.0
    across = turned * np.cos(np.radians(middle[0]))
    return np.hypot(lat - middle[0], across) * _KM_PER_DEGREE


def _far(sheet: Sheet, row: int, middle: tuple[float, float], limit: float, away: float, written: str) -> Raised:
    """Raise a place far off, with the one slip that would explain it, if one does."""
    lat, lon = float(sheet.latitude[row]), float(sheet.longitude[row])
    texts = written.split(", ")
    both = "latitude and longitude are exchanged"
    trials = [
        ("swap", both, (lon, lat), [texts[-1], texts[0]]),
        ("sign", "the longitude has lost its sign", (lat, -lon), [texts[0], _turned(texts[-1])]),
        ("sign", "the latitude has lost its sign", (-lat, lon), [_turned(texts[0]), texts[-1]]),
        ("sign", "both signs are turned", (-lat, -lon), [_turned(texts[0]), _turned(texts[-1])]),
        ("swap", f"{both}, and a sign is lost", (lon, -lat), [texts[-1], _turned(texts[0])]),
        ("swap", f"{both}, and a sign is lost", (-lon, lat), [_turned(texts[-1]), texts[0]]),
    ]  # fmt: skip
    fits = []
    for rule, words, (new_lat, new_lon), becomes in trials:
        if abs(new_lat) <= 90 and abs(new_lon) <= 180:
            there = float(_km(np.array([new_lat]), np.array([new_lon]), middle)[0])
            if there <= limit and there < _NEAR * away:
                fits.append((rule, words, becomes))
    if fits:
        rule, words, becomes = fits[0]
        return Raised(
            rule, "", "propose", [row], "latitude, longitude",
            f"{capital(sheet.called(row))} at {written}: {words}; put right, it lies among the others.", _PIN,
            [", ".join(becomes)],
        )  # fmt: skip
    where = f"{away:,.0f} km from the middle of the sites" if abs(lat) <= 90 and abs(lon) <= 180 else "not on Earth"
    return Raised(
        "far", "", "ask", [row], "latitude, longitude", f"{capital(sheet.called(row))} at {written} is {where}.", _PIN
    )  # fmt: skip


def _turned(text: str) -> str:
    """Return a number's text with its sign turned."""
    bare = text.strip()
    return bare[1:] if bare.startswith(("-", "+")) and bare[0] == "-" else "-" + bare.lstrip("+")
