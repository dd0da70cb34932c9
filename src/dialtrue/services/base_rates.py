"""The checks of a programme tied to its fittings, and the prior that follows from them for each port."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from dialtrue.domain.contracts import ROLES
from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.domain.words import counted
from dialtrue.engine.base_rates import Checks, group_log_factor, kind_log_factor, learned_shares, weigh_checks
from dialtrue.engine.evidence.frame import Block, Case
from dialtrue.engine.posterior import PRIOR
from dialtrue.services.fleet_records import FleetRecords
from dialtrue.services.table_columns import moments_us, own_codes, table_of, texts

GROUPED_BY = ("fitter", "cable_lot", "endpoint_sheet")
SITE_GROUPED_BY = ("output", "input", "cable")
"""What ports are grouped by: columns of fittings, and of sites."""
AFTER_REMOVAL_US = 86_400_000_000
"""A check may be written down up to a day after the endpoint was taken off. Our assumption. [us]"""


@dataclass(slots=True)
class BaseRates:
    """``shares`` by fault code; ``log_factor`` (n, n_faults) what the groups add [nat]; ``block`` and ``settled_us``
    (n,) what was found at the ports themselves, None where nothing was; ``said`` what has to be said of it."""

    shares: dict[str, float]
    log_factor: NDArray[np.float64]
    block: Block | None
    settled_us: NDArray[np.int64] | None
    said: list[str]


def base_rates(
    tables: Mapping[str, pa.Table], records: FleetRecords, case: Case, *, stated: Mapping[str, float]
) -> BaseRates:
    """Work out how common each fault is at each port before its reads are weighed.

    Parameters
    ----------
    tables : mapping
        Normalised contract tables; ``checks`` may be missing. Checks later than the run must have been taken away.
    records : FleetRecords
    case : Case
    stated : mapping
        Shares that the programme states itself. [-]

    Returns
    -------
    BaseRates

    Raises
    ------
    Never raises on normalised tables.

    Source
    ------
    See ``engine.base_rates``.
    """
    prior = np.array([{**PRIOR, **stated}[code] for code in FAULTS])
    prior = prior / prior.sum()
    log_factor = kind_log_factor(case.compound)
    table = tables.get("checks")
    if table is None or not table.num_rows:
        return BaseRates(dict(zip(FAULTS, prior.tolist(), strict=True)), log_factor, None, None, [])
    checks, strangers = tie_checks(table, records)
    said = [f"{counted(strangers, 'check')} in checks name no fitting that stood then."] if strangers else []
    shares = learned_shares(prior, checks)
    log_factor = log_factor + group_log_factor(_groups(tables, records), checks, shares)
    block, settled = weigh_checks(case, checks)
    return BaseRates(dict(zip(FAULTS, shares.tolist(), strict=True)), log_factor, block, settled, said)


def tie_checks(table: pa.Table, records: FleetRecords) -> tuple[Checks, int]:
    """Tie each check to the fitting that stood then, by meter, or by endpoint and port where no meter is named.

    Returns
    -------
    Checks
        Sorted by time.
    int
        Checks that belong to no fitting.

    Raises
    ------
    Never raises on normalised tables.
    """
    fleet = records.fleet
    by_meter: dict[tuple[str, str], list[int]] = {}
    by_endpoint: dict[tuple[str, int], list[int]] = {}
    for f, (meter, role, endpoint, port) in enumerate(
        zip(fleet.meter_serial, fleet.role, fleet.endpoint_serial, fleet.port.tolist(), strict=True)
    ):
        by_meter.setdefault((meter, role), []).append(f)
        by_endpoint.setdefault((endpoint, port), []).append(f)
    at_us = moments_us(table["checked_at"], 0)
    rows = np.full(table.num_rows, -1, np.int64)
    for k, check in enumerate(table.to_pylist()):
        meter, endpoint = check["meter_serial"], check["endpoint_serial"]
        role, port = check["register_role"] or ROLES[0], int(check["port"] or 1)
        found = by_meter.get((meter, role), []) if meter else by_endpoint.get((endpoint, port), [])
        for f in found:
            if endpoint and endpoint != fleet.endpoint_serial[f]:
                continue
            if fleet.fit_us[f] <= at_us[k] and at_us[k] - AFTER_REMOVAL_US <= fleet.removed_us[f]:
                rows[k] = f
    tied = np.flatnonzero(rows >= 0)
    tied = tied[np.argsort(at_us[tied], kind="stable")]
    found_code = np.array([COLUMN[code] for code in table["found"].to_pylist()], np.int64)
    sampled = np.array([why == "sample" for why in texts(table["why"])], bool)
    right = np.array([value is not False for value in table["put_right"].to_pylist()], bool)
    checks = Checks(rows[tied], found_code[tied], at_us[tied], sampled[tied], right[tied])
    return checks, table.num_rows - len(tied)


def _groups(tables: Mapping[str, pa.Table], records: FleetRecords) -> NDArray[np.int64]:
    """Return each port's group by crew, cable lot and hardware, -1 where the records do not say."""
    fittings, n = table_of(dict(tables), "fittings"), records.fleet.size
    columns = [_codes(fittings, name) for name in GROUPED_BY]
    sites = table_of(dict(tables), "sites")
    if sites.num_rows:
        place = _site_places(sites, records)
        for name in SITE_GROUPED_BY:
            codes = np.append(_codes(sites, name), -1)
            columns.append(codes[place])
    return np.stack(columns, axis=1) if n else np.zeros((0, len(columns)), np.int64)


def _codes(table: pa.Table, name: str) -> NDArray[np.int64]:
    if name not in table.column_names:
        return np.full(table.num_rows, -1, np.int64)
    codes, values = own_codes(table[name])
    blank = np.array([value is None or value == "" for value in values], bool)
    order = np.cumsum(~blank) - 1
    return np.where(blank, -1, order)[codes] if len(values) else codes


def _site_places(sites: pa.Table, records: FleetRecords) -> NDArray[np.int64]:
    """Return the row of sites of each fitting, the place past the end where there is none."""
    key = {
        (serial, role or ROLES[0]): place
        for place, (serial, role) in enumerate(
            zip(sites["meter_serial"].to_pylist(), sites["register_role"].to_pylist(), strict=True)
        )
    }
    fleet = records.fleet
    return np.array(
        [key.get(pair, sites.num_rows) for pair in zip(fleet.meter_serial, fleet.role, strict=True)], np.int64
    )
