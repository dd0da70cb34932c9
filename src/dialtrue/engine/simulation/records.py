"""The rows that the programme's people write down, and the truth that only the simulation knows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np
import pyarrow as pa

from dialtrue.domain.contracts import TABLE
from dialtrue.engine.simulation.association import Tie
from dialtrue.engine.simulation.delivery import Delivered
from dialtrue.engine.simulation.dial_rounds import DialRounds, Look, looks_at
from dialtrue.engine.simulation.marks import shown_by
from dialtrue.engine.simulation.port import Port

_TIME = pa.timestamp("us", tz="UTC")
_ARROW = {
    "text": pa.string(), "digits": pa.string(), "decimal": pa.string(), "unit": pa.string(), "choice": pa.string(),
    "int": pa.int64(), "float": pa.float64(), "flag": pa.bool_(), "time": _TIME, "day": pa.date32(),
}  # fmt: skip
_FLAG_WORDS = pa.array(["", "estimated", "repeated"]).cast(pa.string())

LABEL_COLUMNS: dict[str, pa.DataType] = {
    "meter_serial": pa.string(), "endpoint_serial": pa.string(), "port": pa.int64(), "register_role": pa.string(),
    "fault": pa.string(), "since": _TIME, "parameter": pa.float64(), "severity": pa.float64(),
    "volume_error_l": pa.float64(), "true_volume_l": pa.float64(), "variant": pa.string(),
    "dial_at_fit_true": pa.string(), "dial_misread": pa.string(), "shown_by": pa.string(), "right_looks": pa.int64(),
}  # fmt: skip
"""Columns of ``labels``. ``dial_misread`` holds the stamps of wrongly read dials, ISO 8601, parted by spaces;
``right_looks`` counts those after the onset that are right; ``shown_by`` says what in the files could show the fault
(see ``marks``), ``second_dial`` where nothing does.

``parameter`` by code: counted over true volume for settings, doubles, crossings, exchanges and mismatches; share lost
(lost_counts, intermittent) or gained (extra_counts, backflow_counted); false counts in a wet hour (wet_counts), in an
hour or a transmission (steady_counts); counts at which a digit_slip rolls over; offset in ``index_unit`` (start_slip,
index_reset); seconds (clock_shift, longest standstill of stale_index); litres an hour (customer_leak); after over
before (use_change). ``severity`` is the draw behind it, 0 to 1. ``since`` of an innocent is when it began.
"""


@dataclass(slots=True)
class Rows:
    """Rows gathered so far, one list of dicts a table, and the reads as arrays."""

    sites: list[dict[str, Any]] = field(default_factory=list)
    fittings: list[dict[str, Any]] = field(default_factory=list)
    dial_reads: list[dict[str, Any]] = field(default_factory=list)
    alarms: list[dict[str, Any]] = field(default_factory=list)
    use_history: list[dict[str, Any]] = field(default_factory=list)
    labels: list[dict[str, Any]] = field(default_factory=list)
    crossings: list[dict[str, Any]] = field(default_factory=list)
    reads: list[tuple[str, int, Delivered]] = field(default_factory=list)


_OUTPUT_OF: Final = {
    "nutating_disc": "reed-contact", "oscillating_piston": "reed-one-in-five", "single_jet": "reed-contact",
    "multi_jet": "open-drain-half", "turbine": "open-collector", "compound": "reed-contact",
}  # fmt: skip
"""Generic output sheet of each kind of meter in an invented town. Our assumption; any sheet would do."""
_METRIC: Final = ("L", "m3")


def stamp(at_s: int) -> np.datetime64:
    """Return an instant as Arrow and NumPy know it."""
    return np.datetime64(at_s, "s").astype("datetime64[us]")


def site_row(port: Port) -> dict[str, Any]:
    """Return the survey's row of a register."""
    spec, face = port.spec, port.spec.face
    return {
        "site": spec.site, "account": spec.account, "address": spec.address, "latitude": spec.latitude,
        "longitude": spec.longitude, "mount": spec.mount, "meter_serial": spec.meter_serial,
        "meter_type": spec.meter_type, "meter_size": spec.meter_size, "register_role": spec.role,
        "dial_digits": face.digits, "fixed_zeros": face.fixed_zeros, "dial_unit": face.unit,
        "dial_resolution": face.resolution, "pulse_weight": face.pulse_weight, "pulse_unit": face.pulse_unit,
        "output": _OUTPUT_OF.get(spec.meter_type),
        "cable": "mm2-0-5-pair" if face.unit in _METRIC else "awg22-pair",
        "cable_length_m": spec.cable_length_m, "use_l_per_day": round(spec.mean_l_day, 1),
    }  # fmt: skip


def fitting_row(port: Port, tie: Tie) -> dict[str, Any]:
    """Return the fitter's row of a port, as recorded."""
    spec, recorded = port.spec, port.recorded
    return {
        "site": spec.site, "meter_serial": spec.meter_serial, "register_role": spec.role,
        "endpoint_serial": tie.endpoint, "port": tie.number, "fitted_at": stamp(spec.fitted_s), "fitter": spec.fitter,
        "dial_at_fit": port.dial_recorded, "start_index": f"{port.start_keyed:0{recorded.digits}d}",
        "index_digits": recorded.digits, "index_unit": recorded.unit, "index_resolution": recorded.resolution,
        "weight_set": recorded.weight, "weight_unit": recorded.weight_unit, "tamper_loop": spec.tamper_loop,
        "cable_lot": spec.cable_lot, "removed_at": None if port.removed_s is None else stamp(port.removed_s),
    }  # fmt: skip


def dial_rows(port: Port, rng: np.random.Generator, *, rounds: DialRounds) -> tuple[list[dict[str, Any]], list[Look]]:
    """Return what was seen on the dial, and the looks after the fitting with what is true of them."""
    spec = port.spec
    looks = looks_at(port, rng, rounds)
    seen = [(spec.fitted_s, "fitter", port.dial_recorded)]
    if port.removed_s is not None and spec.exchange == "meter":
        seen.append((port.removed_s, "fitter", spec.face.text(port.dial_at(port.removed_s))))
    seen += [(look.stamped_s, look.source, spec.face.text(look.moving)) for look in looks]
    rows = [
        {
            "meter_serial": spec.meter_serial, "register_role": spec.role, "at": stamp(at_s), "dial": dial,
            "source": source, "note": None,
        }
        for at_s, source, dial in sorted(seen)
    ]  # fmt: skip
    return rows, looks


def label_row(
    port: Port,
    tie: Tie,
    ports: Sequence[Port],
    delivered: Sequence[Delivered],
    looks: Sequence[Look],
    *,
    interval_s: int,
) -> dict[str, Any]:
    """Return the truth about one port: its fault and what the reads have got wrong since the fitting.

    The reads' volume is the recorded index at the last delivered read less the dial as it truly stood at the fitting;
    the true volume is taken at the instant at which that read was latched.
    """
    counted, at_s = 0.0, port.end_s
    heard = None if tie.heard is None else ports[tie.heard]
    if heard is not None and tie.heard is not None:
        mark = delivered[tie.heard].last_mark()
        if mark is not None:
            at_s = int(heard.marks_s[mark])
            top = (heard.start_right - heard.start_right % heard.recorded.capacity) - (
                port.start_right - port.start_right % port.recorded.capacity
            )
            index = int(heard.recorded_index[mark]) - top
            counted = float(index * port.recorded.resolution_l - port.dial_seen * port.spec.face.resolution_l)
    true_l = port.true_l(at_s)
    sound = port.fate.code == "sound"
    wrong = " ".join(f"{np.datetime_as_string(stamp(look.stamped_s), unit='s')}Z" for look in looks if look.wrong)
    since = port.fate.onset_s if port.since_s is None else port.since_s
    return {
        "meter_serial": port.spec.meter_serial, "endpoint_serial": tie.endpoint, "port": tie.number,
        "register_role": port.spec.role, "fault": port.fate.code, "since": None if sound else stamp(since),
        "parameter": port.parameter, "severity": round(port.fate.severity, 4),
        "volume_error_l": round(counted - true_l, 3), "true_volume_l": round(true_l, 3),
        "variant": port.variant or None,
        "dial_at_fit_true": port.spec.face.text(port.dial_seen), "dial_misread": wrong or None,
        "shown_by": shown_by(port, heard, looks, interval_s=interval_s) or None,
        "right_looks": sum(not look.wrong and (sound or look.at_s > since) for look in looks),
    }  # fmt: skip


def contract_table(name: str, rows: list[dict[str, Any]]) -> pa.Table:
    """Return rows as a table in the contract's columns that the rows carry; without rows, in those it asks for."""
    columns = [column for column in TABLE[name].columns if (column.name in rows[0] if rows else column.required)]
    arrays = [_array([row[column.name] for row in rows], _ARROW[column.form]) for column in columns]
    return pa.table(arrays, names=[column.name for column in columns])


def label_table(rows: list[dict[str, Any]]) -> pa.Table:
    """Return the labels as a table."""
    arrays = [_array([row[name] for row in rows], kind) for name, kind in LABEL_COLUMNS.items()]
    return pa.table(arrays, names=list(LABEL_COLUMNS))


def _array(values: list[Any], kind: pa.DataType) -> pa.Array:
    """Return one column; instants are NumPy's, which Arrow takes without a zone."""
    if pa.types.is_timestamp(kind):
        return pa.array(values, pa.timestamp("us")).cast(kind)
    return pa.array(values, kind)


def reads_table(reads: list[tuple[str, int, Delivered]], *, as_received: bool = False) -> pa.Table:
    """Return all delivered reads as one table: port after port, or in the order in which they were received."""
    lengths = [len(part.mark) for _, _, part in reads]
    serial = pa.array([endpoint for endpoint, _, _ in reads], pa.string())
    row = pa.array(np.repeat(np.arange(len(reads)), lengths))
    port = np.repeat(np.array([number for _, number, _ in reads], np.int64), lengths)

    def whole(name: str) -> np.ndarray:
        return np.concatenate([getattr(part, name) for _, _, part in reads]) if reads else np.empty(0, np.int64)

    flag = _FLAG_WORDS.take(pa.array(whole("flag").astype(np.int64)))
    table = pa.table(
        {
            "endpoint_serial": serial.take(row),
            "port": pa.array(port),
            "at": pa.array(whole("at_s").astype("datetime64[s]"), pa.timestamp("s")).cast(_TIME),
            "index": pa.array(whole("index"), pa.int64()),
            "flag": flag,
            "received_at": pa.array(whole("received_s").astype("datetime64[s]"), pa.timestamp("s")).cast(_TIME),
        }
    )
    return table.take(np.argsort(whole("received_s"), kind="stable")) if as_received else table
