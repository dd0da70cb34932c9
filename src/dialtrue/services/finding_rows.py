"""The findings of a fleet, each put into words when it is asked for; the quiet ones in a few words from arrays."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, overload

import numpy as np
from numpy.typing import NDArray

from dialtrue.domain.contracts import FINDINGS
from dialtrue.domain.faults import CATALOGUE, COLUMN, FAULTS
from dialtrue.domain.finding import Evidence, Finding, Findings
from dialtrue.engine.decision import ACTIONS, LOOKED_AT
from dialtrue.engine.next_check import NAMES
from dialtrue.engine.scan_kernel import DAY_US
from dialtrue.files.findings import evidence_json
from dialtrue.services.check_words import check_sentence
from dialtrue.services.fleet_records import moment_of, us_of
from dialtrue.services.judged import Judged
from dialtrue.services.port_facts import FactsDesk
from dialtrue.services.remedy_words import remedy_sentence
from dialtrue.services.verdict_words import routine_sentence, settled_sentence, sound_sentence, verdict_sentence
from dialtrue.services.verdicts import Verdicts

SOUND = COLUMN["sound"]
LEAST_WEIGHT = 0.25
"""Evidence lighter than this is not listed [nat]. Our assumption: it moves no verdict."""
_PRESSED = frozenset(code for code, fault in CATALOGUE.items() if fault.kind in ("wiring", "setting"))
"""Faults whose repair ends with an index set to the dial."""
WITHOUT_PARAMETER = ("sound", "vacant", "customer_leak")


class FindingRows(Findings):
    """One finding per fitted port and those beside them, by falling priority.

    A port that counts true and asks for nothing is *quiet*: its one line of evidence is the block that says most, and
    no word of it is written before somebody asks.
    """

    def __init__(self, judged: Judged, verdicts: Verdicts, beside: Sequence[Finding]) -> None:
        self._judged, self._verdicts, self._beside = judged, verdicts, tuple(beside)
        fleet, decision = judged.case.fleet, verdicts.decision
        self._size = fleet.size
        self.quiet: NDArray[np.bool_] = (verdicts.code == SOUND) & (decision.action == 0)
        self._look = np.full(self._size, -1, np.int64)
        self._look[verdicts.asked] = verdicts.look.look
        priority = np.concatenate((np.round(decision.priority, 4), [item.priority for item in self._beside]))
        serial = np.array([*fleet.meter_serial, *(item.meter_serial for item in self._beside)], dtype=str)
        port = np.concatenate((fleet.port, np.array([item.port for item in self._beside], np.int64)))
        self._order: NDArray[np.int64] = np.lexsort((port, serial, -priority))
        self._facts = FactsDesk(judged)
        self._built: dict[int, Finding] = {}
        self._short: tuple[NDArray[np.int64], NDArray[np.float64]] | None = None

    # --- a sequence ---------------------------------------------------------------------------------------------------

    def __len__(self) -> int:
        """Return the number of findings."""
        return len(self._order)

    @overload
    def __getitem__(self, place: int) -> Finding: ...

    @overload
    def __getitem__(self, place: slice) -> Sequence[Finding]: ...

    def __getitem__(self, place: int | slice) -> Finding | Sequence[Finding]:
        """Return one finding, or those of a slice as a tuple."""
        if isinstance(place, slice):
            return tuple(self.at_row(int(row)) for row in self._order[place])
        return self.at_row(int(self._order[place]))

    def __iter__(self) -> Iterator[Finding]:
        """Yield the findings in order."""
        return (self.at_row(int(row)) for row in self._order)

    def _picked(self, wanted: NDArray[np.bool_], beside: Sequence[bool]) -> Sequence[Finding]:
        mask = np.concatenate((wanted, np.array(beside, bool)))
        return _PickedRows(self, self._order[mask[self._order]])

    def asking(self) -> Sequence[Finding]:
        """Return those that ask for an action, in order."""
        return self._picked(self._verdicts.decision.action > 0, [item.action != "none" for item in self._beside])

    def naming(self, code: str) -> Sequence[Finding]:
        """Return those that name a cause, in order."""
        return self._picked(self._verdicts.code == COLUMN[code], [item.fault == code for item in self._beside])

    # --- one finding --------------------------------------------------------------------------------------------------

    def at_row(self, row: int) -> Finding:
        """Return the finding of a row of the fleet; rows past its end are those beside it."""
        if row >= self._size:
            return self._beside[row - self._size]
        found = self._built.get(row)
        if found is None:
            found = self._quiet_finding(row) if self.quiet[row] else self._loud_finding(row)
            if not self.quiet[row]:
                self._built[row] = found
        return found

    def evidence(self, row: int) -> tuple[Evidence, ...]:
        """Return all that the blocks say of a row of the fleet, the weightiest for the named cause first."""
        code = int(self._verdicts.code[row])
        against = int(self._verdicts.second[row]) if code == SOUND else SOUND
        items = []
        for block in self._judged.blocks:
            weight = block.weight(row, code, against)
            if abs(weight) >= LEAST_WEIGHT:
                says, figures = block.says(row, code)
                items.append(Evidence(block.name, says, figures, round(weight, 3)))
        return tuple(sorted(items, key=lambda item: -item.weight))

    def _figures(self, f: int) -> dict[str, Any]:
        """Return the columns of one row that are figures."""
        fleet, verdicts = self._judged.case.fleet, self._verdicts
        code, second = int(verdicts.code[f]), int(verdicts.second[f])
        fault, action = FAULTS[code], ACTIONS[int(verdicts.decision.action[f])]
        error = verdicts.error
        middle, low, high = float(error.middle_l[f]), float(error.low_l[f]), float(error.high_l[f])
        told = math.isfinite(middle) and (fault != "duplicate_serial" or action != "none")
        began = fault != "sound" and bool(verdicts.since_us[f])
        parameter = float(verdicts.parameter[f])
        shown = parameter if math.isfinite(parameter) and fault not in WITHOUT_PARAMETER else None
        return {
            "meter_serial": fleet.meter_serial[f],
            "endpoint_serial": fleet.endpoint_serial[f],
            "port": int(fleet.port[f]),
            "register_role": fleet.role[f],
            "fault": fault,
            "probability": float(verdicts.probability[f, code]),
            "runner_up": FAULTS[second],
            "runner_up_probability": float(verdicts.probability[f, second]),
            "action": action,
            "since": moment_of(int(verdicts.since_us[f])) if began else None,
            "since_low": moment_of(int(verdicts.since_low_us[f])) if began else None,
            "since_high": moment_of(int(verdicts.since_high_us[f])) if began else None,
            # Two registers under one serial have no volume of their own until somebody has looked.
            "volume_error_l": round(middle, 3) if told else None,
            "volume_error_low_l": round(low, 3) if math.isfinite(low) else None,
            "volume_error_high_l": round(high, 3) if math.isfinite(high) else None,
            "parameter": shown,
            "priority": round(float(verdicts.decision.priority[f]), 4),
        }

    def _loud_finding(self, f: int) -> Finding:
        verdicts, fleet = self._verdicts, self._judged.case.fleet
        figures = self._figures(f)
        fault, runner_up = figures["fault"], figures["runner_up"]
        suspect = FAULTS[int(verdicts.suspect[f])]
        facts = self._facts.of(f, to_press=figures["action"] != "none" and fault in _PRESSED)
        routine = bool(verdicts.decision.routine[f])
        settled = 0 if self._judged.settled_us is None else int(self._judged.settled_us[f])
        if fault == "sound" and routine:
            sentence = routine_sentence()
        else:
            sentence = verdict_sentence(
                fault,
                parameter=figures["parameter"],
                since=figures["since"],
                dial_unit=facts.unit,
                at_fitting=bool(verdicts.since_us[f] <= fleet.fit_us[f] + DAY_US),
                has_pair=bool(verdicts.looked_at[f]),
                doubt=suspect if fault == "sound" else "",
            )
        if settled:
            sentence = settled_sentence(sentence, moment_of(settled))
        look = NAMES[int(self._look[f])]
        if fault == "sound":
            look = "photo" if routine else LOOKED_AT[int(verdicts.decision.look[f])]
        named, rival = (suspect, "sound") if fault == "sound" and not routine else (fault, runner_up)
        one, two = float(verdicts.parameter[f]), float(verdicts.other[f])
        if named != fault:
            one, two = (two if suspect == runner_up else math.nan), one
        check = check_sentence(look, facts, fault=named, runner_up=rival, parameter=one, other=two)
        return Finding(
            **figures,
            next_check="" if settled else check,
            remedy=CATALOGUE[fault].remedy if settled else remedy_sentence(fault, facts, parameter=one),
            verdict=sentence,
            evidence=self.evidence(f),
        )

    def _quiet_finding(self, f: int) -> Finding:
        return Finding(
            **self._figures(f),
            next_check=CATALOGUE["sound"].settling_check,
            remedy=CATALOGUE["sound"].remedy,
            verdict=sound_sentence(looked_at=bool(self._verdicts.looked_at[f])),
            evidence=self._short_evidence(f),
        )

    # --- the quiet ones, by arrays ------------------------------------------------------------------------------------

    def _strongest(self) -> tuple[NDArray[np.int64], NDArray[np.float64]]:
        """Return for each row the block that says most about *counts true* against the runner-up, and how much."""
        if self._short is None:
            row, second = np.arange(self._size), self._verdicts.second
            weights = np.zeros((len(self._judged.blocks), self._size))
            for place, block in enumerate(self._judged.blocks):
                weights[place] = block.loglik[row, SOUND] - block.loglik[row, second]
                if len(block.told):
                    weights[place] += block.told[row, SOUND] - block.told[row, second]
            best = np.argmax(np.abs(weights), axis=0) if len(weights) else np.zeros(self._size, np.int64)
            most = weights[best, row] if len(weights) else np.zeros(self._size)
            self._short = best, np.round(most, 3)
        return self._short

    def _short_evidence(self, f: int) -> tuple[Evidence, ...]:
        best, most = self._strongest()
        if abs(most[f]) < LEAST_WEIGHT:
            return ()
        says = _short_words(FAULTS[int(self._verdicts.second[f])], most[f] > 0)
        return (Evidence(self._judged.blocks[int(best[f])].name, says, {}, float(most[f])),)

    def _short_json(self) -> list[str]:
        """Return the evidence of every row as if it were quiet."""
        best, most = self._strongest()
        names = [block.name for block in self._judged.blocks]
        heads = {
            (block, code, speaks): evidence_json((Evidence(names[block], _short_words(FAULTS[code], speaks), {}, 0.0),))
            for block in range(len(names))
            for code in np.unique(self._verdicts.second).tolist()
            for speaks in (True, False)
        }
        cut = {key: text[: text.rindex(":") + 1] for key, text in heads.items()}
        return [
            f"{cut[block, code, weight > 0]}{weight!r}}}]" if abs(weight) >= LEAST_WEIGHT else "[]"
            for block, code, weight in zip(
                best.tolist(), self._verdicts.second.tolist(), most.tolist(), strict=True
            )
        ]  # fmt: skip

    def columns(self) -> Mapping[str, Sequence[Any]]:
        """Return every column of the findings table at once; the quiet rows come from arrays."""
        verdicts, fleet, n = self._verdicts, self._judged.case.fleet, self._size
        row, names, actions = np.arange(n), np.array(FAULTS, object), np.array(ACTIONS, object)
        code, error = verdicts.code, verdicts.error
        began = (code != SOUND) & (verdicts.since_us > 0)
        told = np.isfinite(error.middle_l) & ((code != COLUMN["duplicate_serial"]) | (verdicts.decision.action > 0))
        shown = ~np.isin(code, [COLUMN[name] for name in WITHOUT_PARAMETER])
        sound = CATALOGUE["sound"]
        words = np.where(verdicts.looked_at, sound_sentence(looked_at=True), sound_sentence(looked_at=False))
        texts: dict[str, list[Any]] = {
            "next_check": [sound.settling_check] * n,
            "remedy": [sound.remedy] * n,
            "verdict": words.tolist(),
            "evidence": self._short_json(),
        }
        for f in np.flatnonzero(~self.quiet).tolist():
            finding = self.at_row(f)
            for name in ("next_check", "remedy", "verdict"):
                texts[name][f] = getattr(finding, name)
            texts["evidence"][f] = evidence_json(finding.evidence)
        table: dict[str, Any] = {
            "meter_serial": fleet.meter_serial,
            "endpoint_serial": fleet.endpoint_serial,
            "port": fleet.port,
            "register_role": fleet.role,
            "fault": names[code],
            "probability": verdicts.probability[row, code],
            "runner_up": names[verdicts.second],
            "runner_up_probability": verdicts.probability[row, verdicts.second],
            "action": actions[verdicts.decision.action],
            "since": np.where(began, verdicts.since_us, -1),
            "since_low": np.where(began, verdicts.since_low_us, -1),
            "since_high": np.where(began, verdicts.since_high_us, -1),
            "volume_error_l": np.where(told, np.round(error.middle_l, 3), np.nan),
            "volume_error_low_l": np.round(error.low_l, 3),
            "volume_error_high_l": np.round(error.high_l, 3),
            "parameter": np.where(shown, verdicts.parameter, np.nan),
            "priority": np.round(verdicts.decision.priority, 4),
            **texts,
        }
        return {column.name: self._in_order(column.name, table[column.name]) for column in FINDINGS.columns}

    def _in_order(self, name: str, values: Any) -> Any:
        """Append the findings beside the fleet and bring a column into the order of the findings."""
        figures = isinstance(values, np.ndarray) and values.dtype != object
        more = [_plain(getattr(item, name), name, figures=figures) for item in self._beside]
        if figures:
            return np.concatenate((values, np.array(more, values.dtype)))[self._order]
        return np.array([*values, *more], object)[self._order]


class _PickedRows(Sequence[Finding]):
    """Some of the findings, each built when it is asked for."""

    def __init__(self, findings: FindingRows, rows: NDArray[np.int64]) -> None:
        self._findings, self._rows = findings, rows

    def __len__(self) -> int:
        return len(self._rows)

    @overload
    def __getitem__(self, place: int) -> Finding: ...

    @overload
    def __getitem__(self, place: slice) -> Sequence[Finding]: ...

    def __getitem__(self, place: int | slice) -> Finding | Sequence[Finding]:
        if isinstance(place, slice):
            return [self._findings.at_row(int(row)) for row in self._rows[place]]
        return self._findings.at_row(int(self._rows[place]))


def _plain(value: Any, name: str, *, figures: bool) -> Any:
    """Return a field of a finding as the columns carry it."""
    if name.startswith("since"):
        return us_of(value, -1)
    if name == "evidence":
        return evidence_json(value)
    return math.nan if figures and value is None else value


def _short_words(rival: str, speaks: bool) -> str:
    """Say in a few words what the strongest block says of a quiet port."""
    if rival == "sound":
        return "Nothing speaks against it."
    title = CATALOGUE[rival].title
    return f"Speaks for a true count, against this: {title}." if speaks else f"Speaks a little for this: {title}."
