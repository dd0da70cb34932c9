"""The sheet against another list of meters: one slip apart, another serial for the site, not listed, never met."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

from dialtrue.domain.near_serials import one_edit_apart
from dialtrue.engine.survey.serials import SerialState
from dialtrue.engine.survey.sheet import Listed, Raised, Sheet, capital, plural, shown

_HOUSE: Final = re.compile(r"^\s*\d+\s*[A-Za-z]?[\s,]+|[\s,]+\d+\s*[A-Za-z]?\s*$")
_PART: Final = 0.5
"""Share of one list that must be on the other before what is missing is worth a question. Our assumption: below it the
two lists speak of different places."""


def street(address: str | None) -> str:
    """Return an address without its house number, folded for comparison; a blank where there is none. Never raises.

    Examples
    --------
    >>> street("12 Bobbin Row"), street("Bobbin row 12b"), street(None)
    ('bobbin row', 'bobbin row', '')
    """
    return " ".join(_HOUSE.sub("", address or "").casefold().replace(",", " ").split())


def _shortened(serial: str) -> set[str]:
    """Return a serial with each one of its characters left out, and as it is."""
    return {serial, *(serial[:place] + serial[place + 1 :] for place in range(len(serial)))}


def _near(unknown: Iterable[str], still_open: Iterable[str]) -> dict[str, list[str]]:
    """Return for each unknown serial the open ones that are one slip away.

    Two texts one slip apart become alike when at most one character is left out of each, so only those are compared.
    """
    by_short: dict[str, list[str]] = {}
    for serial in still_open:
        for short in _shortened(serial):
            by_short.setdefault(short, []).append(serial)
    found = {}
    for serial in unknown:
        pool = dict.fromkeys(each for short in _shortened(serial) for each in by_short.get(short, ()))
        found[serial] = [each for each in pool if one_edit_apart(serial, each)]
    return found


def is_swap(one: str, other: str) -> bool:
    """Tell whether two serials differ by two neighbours exchanged. Never raises.

    Examples
    --------
    >>> is_swap("41773", "41737"), is_swap("41773", "41774")
    (True, False)
    """
    return len(one) == len(other) and sorted(one) == sorted(other) and one_edit_apart(one, other)


def listed_flags(sheet: Sheet, listed: Listed, state: SerialState) -> tuple[list[Raised], list[str]]:
    """Hold the sheet against a list of meters.

    Parameters
    ----------
    sheet : Sheet
        The sites.
    listed : Listed
        The list; nothing is raised where it is empty.
    state : SerialState
        What the checks of serials left.

    Returns
    -------
    tuple
        What was raised, and sentences to be said. Never raises.

    Source
    ------
    Our assumption: one slip of the pen on one street; override by refusing the key.
    """
    if not sheet.rows:
        return [], []
    if not listed.serial:
        words = "put known.csv or use_history into the folder, or name a list with --known."
        return [], [f"There is no list to hold the serials against: {words}"]
    known = set(listed.serial) | listed.extra
    rows = [row for row, serial in enumerate(state.meant) if serial is not None]
    met = {state.meant[row] for row in rows}
    strangers = [row for row in rows if state.meant[row] not in known and row not in state.blocked]
    strangers, bare = _bare(state, strangers, listed.serial)
    met |= bare
    place = {serial: at for at, serial in enumerate(listed.serial)}
    still_open = [serial for serial in place if serial not in met]
    raised, answered = _other_serials(sheet, listed, state, strangers, place, still_open)
    explained = {value for item in raised for value in (item.becomes or item.about)}
    strangers = [row for row in strangers if row not in answered]
    shared = len(rows) - len(strangers)
    ours = listed.whole and shared >= _PART * len(rows)
    near = _near({str(state.meant[row]) for row in strangers}, [each for each in still_open if each not in explained])
    left: list[int] = []
    for row in strangers:
        serial = str(state.meant[row])
        close, sure = _on_street(sheet, listed, row, near[serial], place)
        if not close or (not sure and len(close) > 1):
            left.append(row)
            continue
        explained.update(close)
        raised.append(_slip(sheet, row, serial, close, sure=sure))
    said: list[str] = []
    if bare:
        said.append(
            f"{plural(len(bare), 'serial')} on {listed.name} {'has' if len(bare) == 1 else 'have'} lost leading zeros "
            f"that the survey has, such as {min(bare)}: taken as the same meters here; put the list right."
        )
    if left and ours:
        state.spare += len(left)
        raised.append(
            Raised(
                "unlisted", "", "ask", left, "meter_serial",
                f"{plural(len(left), 'meter')} of the survey {'is' if len(left) == 1 else 'are'} not on {listed.name}: "
                f"{shown(str(sheet.serial[row]) for row in left)}.",
                "Photograph the plate; ask billing whether the meter was exchanged or never entered.",
            ))  # fmt: skip
    elif left and listed.whole:
        said.append(
            f"{shared:,} of {plural(len(rows), 'serial')} are on {listed.name}: the others are not asked about."
        )
    ghosts, words = _ghosts(
        listed, sorted(each for each in still_open if each not in explained), state, sheet, len(met)
    )
    return [*raised, *ghosts], said + words


def _bare(state: SerialState, strangers: list[int], on_list: list[str]) -> tuple[list[int], set[str]]:
    """Part off the rows whose serial the list has without its leading zeros: a spreadsheet took the list's too."""
    without = {serial for serial in on_list if serial.isdigit() and serial[0] != "0"}
    left, bare = [], set()
    for row in strangers:
        serial = str(state.meant[row])
        if serial.isdigit() and serial[0] == "0" and serial.lstrip("0") in without:
            bare.add(serial.lstrip("0"))
        else:
            left.append(row)
    return left, bare


def _other_serials(
    sheet: Sheet, listed: Listed, state: SerialState, strangers: list[int], place: dict[str, int], still_open: list[str]
) -> tuple[list[Raised], set[int]]:
    """Find rows whose site or account the list has with another serial."""
    by_site: dict[tuple[str, str], list[str]] = {}
    for serial in still_open:
        at = place[serial]
        for name, values in (("site", listed.site), ("account", listed.account)):
            if values and values[at]:
                by_site.setdefault((name, str(values[at])), []).append(serial)
    raised, answered = [], set()
    for row in strangers if by_site else ():
        serial = str(state.meant[row])
        found = by_site.get(("site", str(sheet.site[row]))) or by_site.get(("account", str(sheet.account[row])))
        if not found:
            continue
        answered.add(row)
        close = [each for each in found if one_edit_apart(serial, each)]
        if len(close) == 1:
            raised.append(_slip(sheet, row, serial, close, sure=True, where="for this site"))
            continue
        state.spare += 1
        raised.append(
            Raised(
                "other_serial", sheet.called(row).partition(" ")[2], "ask", [row], "meter_serial",
                f"{capital(sheet.called(row))}: the survey has {serial}, the list {shown(found, 3)}.",
                "Photograph the plate; ask billing whether the meter was exchanged.", each=False,
                was=sheet.serial[row] or "", about=tuple(found),
            ))  # fmt: skip
    return raised, answered


def _on_street(
    sheet: Sheet, listed: Listed, row: int, near: list[str], place: dict[str, int]
) -> tuple[list[str], bool]:
    """Return the near serials on the same area or street; whether the list says where its meters are."""
    if not near:
        return [], False
    own_street, own_area = street(sheet.address[row]), sheet.area[row]
    if listed.area and own_area:
        same = [each for each in near if listed.area[place[each]] == own_area]
        if same or any(listed.area[place[each]] for each in near):
            return same, True
    if listed.address and own_street:
        same = [each for each in near if street(listed.address[place[each]]) == own_street]
        if same or any(listed.address[place[each]] for each in near):
            return same, True
    return near, False


def _slip(
    sheet: Sheet, row: int, serial: str, close: list[str], *, sure: bool, where: str = "on the same street"
) -> Raised:
    """Raise a serial that is one slip away from one or more open ones."""
    what = "two neighbours exchanged" if is_swap(serial, close[0]) else "one character apart"
    if len(close) == 1 and sure:
        return Raised(
            "near", serial, "propose", [row], "meter_serial",
            f"{serial} is on no list; {close[0]}, {what}, is {where} and no row has it.",
            f"Photograph the plate. Does it read {close[0]}?", [close[0]], each=False, was=sheet.serial[row] or "",
        )  # fmt: skip
    where = where if sure else "on the list, which does not say where"
    return Raised(
        "near", serial, "ask", [row], "meter_serial",
        f"{serial} is on no list; one slip away {where}: {shown(close, 3)}.",
        "Photograph the plate.", each=False, was=sheet.serial[row] or "", about=tuple(close),
    )  # fmt: skip


def _ghosts(
    listed: Listed, unmet: list[str], state: SerialState, sheet: Sheet, met: int
) -> tuple[list[Raised], list[str]]:
    """Raise listed meters that the survey did not meet, if it is a survey of that list."""
    if listed.site:
        # A site whose serial is in question hides its own listed meter.
        hidden = {sheet.site[row] for row, serial in enumerate(state.meant) if serial is None or row in state.blocked}
        at = dict(zip(listed.serial, listed.site, strict=True))
        unmet = [serial for serial in unmet if at[serial] is None or at[serial] not in hidden]
    if not unmet or not listed.whole:
        return [], []
    total = len(set(listed.serial))
    if total - len(unmet) < _PART * total:
        here = _around(listed, sheet)
        if not here:
            return [], [
                f"The survey meets {met:,} of {total:,} meters on {listed.name}: the others are not called missing."
            ]
        unmet = [serial for serial in unmet if serial in here]
        if not unmet:
            return [], []
    if len(unmet) <= state.spare:
        be = "is" if len(unmet) == 1 else "are"
        return [], [
            f"{shown(unmet)} on {listed.name} {be} met by no row; the rows whose serial is in question may hide it."
        ]
    return [
        Raised(
            "ghost", "", "ask", [], "",
            f"{plural(len(unmet), 'meter')} on {listed.name} {'was' if len(unmet) == 1 else 'were'} met by no survey: "
            f"{shown(unmet)}.",
            "Ask billing whether they were removed; look for them before they are billed again.", about=tuple(unmet),
        )
    ], []  # fmt: skip


def _around(listed: Listed, sheet: Sheet) -> set[str]:
    """Return the listed serials on the streets of the sheet, empty where the list has no addresses."""
    own = {street(address) for address in sheet.address} - {""}
    if not own or not listed.address:
        return set()
    return {serial for serial, address in zip(listed.serial, listed.address, strict=True) if street(address) in own}
