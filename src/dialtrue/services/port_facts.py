"""The facts of one port that its words need, from the records, the looks and the alarms."""

from __future__ import annotations

import math

import numpy as np

from dialtrue.domain.contracts import ALARMS
from dialtrue.domain.dial import Dial
from dialtrue.domain.errors.base import DialtrueError
from dialtrue.domain.index import Index
from dialtrue.domain.port_facts import PortFacts
from dialtrue.domain.start_index import start_index_for
from dialtrue.domain.words import day_text
from dialtrue.services.fleet_records import Row, moment_of
from dialtrue.services.judged import Judged


class FactsDesk:
    """Hands out the facts of one port after another; what is common to all is worked out once."""

    def __init__(self, judged: Judged) -> None:
        self._judged = judged
        self._last = judged.case.pairs.last_rows()
        self._ring: dict[int, list[int]] = {}
        for ring in judged.case.notes.rings:
            for row, by in zip(ring.rows, ring.counted_by, strict=True):
                self._ring.setdefault(row, []).append(by)
        self._rivals: dict[int, list[int]] = {}
        fleet = judged.case.fleet
        for f in np.flatnonzero(judged.case.rivals > 0):
            self._rivals.setdefault(int(fleet.channel[f]), []).append(int(f))

    def of(self, f: int, *, to_press: bool = True) -> PortFacts:
        """Return the facts of one row of the fleet; the digits to press only where somebody will press them.

        Raises
        ------
        Never raises.
        """
        case, records = self._judged.case, self._judged.records
        fleet, pairs, figures = case.fleet, case.pairs, case.scan.figures[f]
        site, fitting = records.site_rows[f] or {}, records.fitting_rows[f]
        q, last = float(fleet.quantum_index_l[f]), int(self._last[f])
        moved = float((figures["walk"] + pairs.start_gap[f]) * q)
        then_us, dial_then, text = int(fleet.fit_us[f]), float(fleet.dial_fit_l[f]), str(fitting["dial_at_fit"] or "")
        if last >= 0:
            moved -= float(pairs.index_l[last])
            then_us, dial_then = int(pairs.at_us[last]), dial_then + float(pairs.dial_l[last])
            text = str(records.dial_rows[int(records.dials.row[last])]["dial"] or "")
        use = float(fleet.use_l_day[f])
        use = use if math.isfinite(use) else abs(float(self._judged.onsets.rate_l_day[f]))
        alarms = dict(zip(ALARMS, case.alarm_counts[f], strict=True))
        rivals = [g for g in self._rivals.get(int(fleet.channel[f]), []) if g != f]
        return PortFacts(
            meter_serial=fleet.meter_serial[f],
            endpoint_serial=fleet.endpoint_serial[f],
            port=int(fleet.port[f]),
            role=fleet.role[f],
            mount=str(site.get("mount") or ""),
            tamper_loop=str(fitting["tamper_loop"] or ""),
            cut_wire_alarm=bool(alarms["cut_wire"]),
            low_battery_alarm=bool(alarms["low_battery"]),
            unit=str(site.get("dial_unit") or "L"),
            weight_l=float(fleet.weight_set_l[f]),
            survey_weight_l=float(fleet.weight_meter_l[f]),
            step_l=float(fleet.quantum_dial_l[f]),
            use_l_day=use,
            moved_l=moved,
            waited_l=use * max(int(case.end_us[f]) - then_us, 0) / 86_400e6,
            dial_then_l=dial_then,
            dial_capacity_l=float(fleet.capacity_dial_l[f]),
            moving_digits=int(site.get("dial_digits") or 0),
            fixed_zeros=int(site.get("fixed_zeros") or 0),
            alike_from=day_text(moment_of(then_us)) if last >= 0 else "the fitting",
            press=_press(site, fitting, text) if to_press else "",
            other_endpoints=tuple(fleet.endpoint_serial[g] for g in self._ring.get(f, ())),
            other_meters=tuple(dict.fromkeys(fleet.meter_serial[g] for g in rivals)),
        )


def _press(site: Row, fitting: Row, text: str) -> str:
    """Say which digits to press, at the dial as last seen; empty where the records do not tell."""
    if not site or not text or not fitting["index_digits"]:
        return ""
    try:
        dial = Dial.of(
            moving_digits=int(site["dial_digits"]), fixed_zeros=int(site["fixed_zeros"] or 0), unit=site["dial_unit"],
            resolution=site["dial_resolution"] or None,
        )  # fmt: skip
        unit = fitting["index_unit"] or site["dial_unit"]
        resolution = fitting["index_resolution"]
        index = Index.of(
            digits=int(fitting["index_digits"]), unit=unit, resolution=resolution or dial.resolution
        )  # fmt: skip
        return f"At a dial of {text}: {_lower_first(start_index_for(dial, text, index).sentence)}"
    except DialtrueError:
        return ""


def _lower_first(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
