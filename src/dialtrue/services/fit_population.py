"""Check every register of a sites table at once."""

from __future__ import annotations

import datetime as dt
import difflib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.pulse_chain.chain import FitSettings
from dialtrue.domain.pulse_chain.rules import RULE_IDS, RULES
from dialtrue.domain.pulse_chain.timing import flow_limits
from dialtrue.domain.pulse_chain.verdict import OUTCOMES
from dialtrue.domain.quantity import exact_decimal, litres_per
from dialtrue.engine.fleet_chains import FleetChains
from dialtrue.engine.fleet_fit import FleetFit, judge_fleet
from dialtrue.files.sheets import Catalogue
from dialtrue.files.sites_in import read_sites

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class PopulationAnswer:
    """The answer for a population: one row of ``plan`` a register, counts, and what is to be said about the table.

    ``outcomes`` counts registers by verdict; ``deciding`` by (verdict, deciding rule), greatest first.
    """

    plan: pa.Table
    outcomes: dict[str, int]
    deciding: tuple[tuple[str, str, int], ...]
    said: tuple[str, ...]
    high_flow_proofs: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Blanks:
    """What stands where a row is blank: sheet keys, a cable length, a billing unit in L. Blank = leave not known."""

    output: str = ""
    input: str = ""
    cable: str = ""
    length_m: float | None = None
    billing_l: float | None = None
    leakage_ohm: float | None = None


def check_population(
    path: Path,
    catalogue: Catalogue,
    *,
    at: dt.datetime,
    settings: FitSettings | None = None,
    blanks: Blanks | None = None,
    strict: bool = False,
) -> PopulationAnswer:
    """Check every register of a sites table.

    Parameters
    ----------
    path : Path
        The table, or a programme folder that holds it.
    catalogue : Catalogue
        Data sheets.
    at : datetime
        The time of the run, aware, UTC.
    settings, blanks : FitSettings, Blanks
        What the verdict is judged by, and what stands where a row is blank.
    strict : bool
        Refuse the table if any row is bad.

    Returns
    -------
    PopulationAnswer
        A sheet key or a meter size that is not known makes its rows *unknown* and is said once.

    Raises
    ------
    UnknownSheet
        A key in ``blanks`` is not known.
    DialtrueError
        The file cannot be used.

    Source
    ------
    See ``engine.fleet_fit``.
    """
    table, log = read_sites(path, at=at, strict=strict)
    fleet, said = fleet_of_sites(table, catalogue, settings or FitSettings(), blanks or Blanks())
    fit = judge_fleet(fleet)
    said = [problem.says() for problem in log.problems] + log.notes + said
    counts = np.bincount(fit.outcome, minlength=len(OUTCOMES))
    pairs, sizes = np.unique(np.stack([fit.outcome, fit.deciding]), axis=1, return_counts=True)
    deciding = sorted(
        ((OUTCOMES[a], RULE_IDS[b], int(size)) for (a, b), size in zip(pairs.T, sizes, strict=True)),
        key=lambda row: -row[2],
    )
    return PopulationAnswer(
        plan_table(table, fit),
        {name: int(counts[place]) for place, name in enumerate(OUTCOMES)},
        tuple(deciding),
        tuple(said),
        int((fit.high_flow_proof == 1).sum()),
    )


def _codes(table: pa.Table, name: str) -> tuple[Places, list[object]]:
    """Return each row's place in the list of distinct values; blank is a value too."""
    encoded = table[name].combine_chunks().dictionary_encode(null_encoding="encode")
    places = encoded.indices.to_numpy(zero_copy_only=False).astype(np.intp)
    return places, encoded.dictionary.to_pylist()


def _by_value(table: pa.Table, names: Sequence[str], take: Callable[..., float]) -> Floats:
    """Return ``take`` of some columns' values, worked out once for each distinct combination."""
    codes, values = zip(*(_codes(table, name) for name in names), strict=True)
    if not table.num_rows:
        return np.empty(0)
    combined = np.zeros(table.num_rows, np.intp)
    for places, distinct in zip(codes, values, strict=True):
        combined = combined * len(distinct) + places
    _, first, back = np.unique(combined, return_index=True, return_inverse=True)
    worked = [take(*(value[place[row]] for place, value in zip(codes, values, strict=True))) for row in first]
    return np.array(worked, dtype=np.float64)[back.reshape(-1)]


def _volume(number: object, unit: object) -> float:
    """Return a volume in litres, exact until the last step; NaN for a blank or for nought."""
    if number is None or unit is None:
        return float("nan")
    litres = float(exact_decimal(str(number)) * litres_per(str(unit)))
    return litres if litres > 0.0 else float("nan")


def fleet_of_sites(
    table: pa.Table, catalogue: Catalogue, settings: FitSettings, blanks: Blanks
) -> tuple[FleetChains, list[str]]:
    """Lay a sites table out as chains, and say what could not be used."""
    said: list[str] = []
    for key, find in (
        (blanks.output, catalogue.output),
        (blanks.input, catalogue.input),
        (blanks.cable, catalogue.cable),
    ):
        if key:
            find(key)
    outputs = _sheet_places(table, "output", list(catalogue.outputs), blanks.output, said)
    inputs = _sheet_places(table, "input", list(catalogue.inputs), blanks.input, said)
    cables = _sheet_places(table, "cable", list(catalogue.cables), blanks.cable, said)

    def flow(size: object, name: str) -> float:
        try:
            return float(getattr(flow_limits(str(size)), name)) if size is not None else float("nan")
        except DialtrueError as why:
            if name == "max_flow_lpm":
                said.append(why.rendered())
            return float("nan")

    length = _numbers(table, "cable_length_m", blanks.length_m)
    columns = {
        "length_m": length,
        "weight_l": _by_value(table, ("pulse_weight", "pulse_unit"), _volume),
        "max_flow_lpm": _by_value(table, ("meter_size",), lambda size: flow(size, "max_flow_lpm")),
        "q3_lpm": _by_value(table, ("meter_size",), lambda size: flow(size, "q3_lpm")),
        "leakage_ohm": np.full(table.num_rows, np.nan if blanks.leakage_ohm is None else blanks.leakage_ohm),
        "use_l_per_day": _numbers(table, "use_l_per_day", None),
        "resolution_l": np.full(table.num_rows, np.nan),
        "billing_l": np.full(table.num_rows, np.nan if blanks.billing_l is None else blanks.billing_l),
        # The index is chosen by the plan; until then its turning over is not asked.
        "index_capacity_l": np.full(table.num_rows, np.nan),
    }
    fleet = FleetChains(
        tuple(catalogue.outputs.values()),
        tuple(catalogue.inputs.values()),
        tuple(catalogue.cables.values()),
        outputs,
        inputs,
        cables,
        columns,
        np.zeros(table.num_rows, np.bool_),
        settings,
    )
    return fleet, said


def _numbers(table: pa.Table, name: str, blank: float | None) -> Floats:
    """Return a column of numbers, NaN or the stand-in where blank."""
    column = table[name].combine_chunks().cast(pa.float64()).to_numpy(zero_copy_only=False).astype(np.float64)
    return column if blank is None else np.where(np.isnan(column), blank, column)


def _sheet_places(table: pa.Table, name: str, keys: list[str], blank: str, said: list[str]) -> Places:
    """Return each row's place in the sheets, -1 where not known; say once what key is not known."""
    place_of = {key: place for place, key in enumerate(keys)}
    codes, values = _codes(table, name)
    rows = np.bincount(codes, minlength=len(values)) if len(values) else np.zeros(0, np.intp)
    places: list[int] = []
    for value, count in zip(values, rows, strict=True):
        key = blank if value is None else str(value)
        places.append(place_of.get(key, -1))
        if key and key not in place_of:
            near = ", ".join(difflib.get_close_matches(key, keys, n=3, cutoff=0.3)) or "none"
            said.append(f"{count} row(s) name the {name} sheet {key!r}, which is in no data sheet; nearest: {near}.")
        elif not key:
            said.append(f"{count} row(s) have no {name}: their verdict rests on what is known, or is not known.")
    return np.array(places, dtype=np.intp)[codes] if places else codes


def plan_table(table: pa.Table, fit: FleetFit) -> pa.Table:
    """Return the plan: who, verdict, deciding rule, its margin in its unit and as a share, flows, proof."""
    rows = np.arange(len(fit.outcome))
    units = np.array([rule.unit for rule in RULES], dtype=object)
    names = np.array(RULE_IDS, dtype=object)
    outcomes = np.array(OUTCOMES, dtype=object)
    proof = np.array(["yes", "no", None], dtype=object)[np.where(fit.high_flow_proof < 0, 2, 1 - fit.high_flow_proof)]

    def decided(matrix: Floats) -> pa.Array:
        column = matrix[rows, fit.deciding]
        return pa.array(column, mask=~np.isfinite(column))

    def flow(column: Floats) -> pa.Array:
        return pa.array(column, mask=~np.isfinite(column))

    own = {name: table[name] for name in ("site", "meter_serial", "register_role", "output", "input", "cable")}
    return pa.table(
        own
        | {
            "verdict": pa.array(outcomes[fit.outcome], pa.string()),
            "deciding_rule": pa.array(names[fit.deciding], pa.string()),
            "worst_margin": decided(fit.margin),
            "margin_unit": pa.array(units[fit.deciding], pa.string()),
            "margin_share": decided(fit.share),
            "value": decided(fit.value),
            "limit": decided(fit.limit),
            "first_loss_flow_lpm": flow(fit.first_loss_flow_lpm),
            "cut_off_flow_lpm": flow(fit.cut_off_flow_lpm),
            "high_flow_proof": pa.array(proof, pa.string()),
        }
    )
