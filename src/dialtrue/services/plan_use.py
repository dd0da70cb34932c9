"""Expected use from the billed history, where the survey gives none."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from dialtrue.domain.contracts import USE_HISTORY
from dialtrue.domain.quantity import LITRES_PER_UNIT
from dialtrue.files.locate import locate
from dialtrue.files.normalise import normalise
from dialtrue.files.problems import ProblemLog
from dialtrue.files.programme import read_raw
from dialtrue.files.repairs_file import read_decisions
from dialtrue.services.table_columns import flat, own_codes

Floats = npt.NDArray[np.float64]

LEAST_DAYS: Final = 60
"""Fewest billed days of a register from which its use is taken. [day] Our assumption: two bills."""


def billed_use_l_per_day(folder: Path, sites: pa.Table, *, at: dt.datetime) -> Floats | None:
    """Return the mean billed use of each row of the sites.

    Parameters
    ----------
    folder : Path
        The programme folder.
    sites : pa.Table
        Sites in the contract's form.
    at : datetime
        The time of the run, aware.

    Returns
    -------
    float64 array or None
        [L/day], NaN where fewer than ``LEAST_DAYS`` days are billed; None where there is no use history.

    Raises
    ------
    DialtrueError
        The file cannot be used. Single bad rows are left out: ``dialtrue watch`` tells them.

    Source
    ------
    Definition: billed volume over billed days. Estimated periods count, for they end in a true one.
    """
    found = locate(folder)
    if "use_history" not in found:
        return None
    path = found["use_history"][0]
    log = ProblemLog(decisions=read_decisions(folder))
    table = normalise(read_raw(path, USE_HISTORY), USE_HISTORY, log, zone="UTC", at=at)
    names = ("meter_serial", "register_role")
    both = pa.concat_tables([table.select(names), sites.select(names)])
    serial, _ = own_codes(both["meter_serial"])
    role, roles = own_codes(both["register_role"])
    key = serial * max(len(roles), 1) + role
    history, wanted = key[: table.num_rows], key[table.num_rows :]
    unit, units = own_codes(table["unit"])
    litres = np.array([float(LITRES_PER_UNIT[word]) for word in units] or [1.0])
    volume = flat(table["volume"]).cast(pa.float64()).to_numpy(zero_copy_only=False) * litres[unit]
    start, end = (flat(table[name]).cast(pa.int32()).to_numpy(zero_copy_only=False) for name in ("start", "end"))
    days = (end - start).astype(np.float64)
    good = (days > 0) & np.isfinite(volume) & (volume >= 0)
    size = int(key.max(initial=-1)) + 1
    billed = np.bincount(history[good], volume[good], minlength=size)[wanted]
    span = np.bincount(history[good], days[good], minlength=size)[wanted]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(span >= LEAST_DAYS, billed / span, np.nan)
