"""Pictures of looks at the dial: the index less the dial, the records of the fitting, a neighbour's dial."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.evidence_picture import EvidencePicture, Mark, Series, moments
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.records import start_offset_counts
from dialtrue.engine.fleet import Floats, Ints
from dialtrue.engine.scan_kernel import DAY_US


def look_noise_l(case: Case, pair_rows: Ints) -> Floats:
    """Return what reading and interpolation alone may put between dial and index at each look [L].

    A digit of the dial, a digit of the index, a pulse, and twice the spread of the index between its reads.
    """
    f = case.pairs.fitting[pair_rows]
    fleet = case.fleet
    noise: Floats = np.nan_to_num(fleet.quantum_dial_l[f]) + fleet.quantum_index_l[f] + fleet.weight_set_l[f]
    return noise + 2.0 * case.pairs.bridge_l[pair_rows]


def pairs_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show index less dial at each look, with the reading noise; None where nobody has looked."""
    rows = case.pairs.rows_of(row)
    if not len(rows):
        return None
    apart = case.pairs.index_l[rows] - case.pairs.dial_l[rows]
    noise = look_noise_l(case, rows)
    outside = int((np.abs(apart) > noise).sum())
    points = Series(
        name="index less dial", unit="L", x=moments(case.pairs.at_us[rows]), y=tuple(apart.tolist()),
        low=tuple((apart - noise).tolist()), high=tuple((apart + noise).tolist()),
    )  # fmt: skip
    of = f"{outside} of {len(rows)} {'look' if len(rows) == 1 else 'looks'}"
    caption = f"At {of} index and dial are further apart than reading and the reads' spacing explain."
    return EvidencePicture(
        title="Index less dial at each look", kind="points", series=(points,), caption=caption, zero=True,
        marks=(Mark("level", "level", "expected", 0.0),),
    )  # fmt: skip


def excess_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show how index less dial grew from look to look; None where nobody has looked."""
    rows = case.pairs.rows_of(row)
    if not len(rows):
        return None
    at = np.concatenate(([case.fleet.fit_us[row]], case.pairs.at_us[rows]))
    apart = np.concatenate(([0.0], case.pairs.index_l[rows] - case.pairs.dial_l[rows]))
    grown = np.abs(np.diff(apart))
    days = np.diff(at) / DAY_US
    most = int(np.argmax(grown))
    line = Series(name="index less dial", unit="L", x=moments(at), y=tuple(apart.tolist()))
    return EvidencePicture(
        title="How the difference grew", kind="line", series=(line,), zero=True,
        caption=f"Most of it arose in the {days[most]:.0f} days before look {most + 1} of {len(rows)}.",
    )  # fmt: skip


def records_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show what the records say of weight and start side by side; None where they say neither."""
    fleet = case.fleet
    offset_l = float(start_offset_counts(case)[row] * fleet.quantum_index_l[row])
    told = {
        "weight the endpoint was told": float(fleet.weight_set_l[row]),
        "pulse weight of the meter": float(fleet.weight_meter_l[row]),
        "start keyed less start the dial asks for": offset_l,
    }
    known = {name: value for name, value in told.items() if np.isfinite(value)}
    if not known:
        return None
    ratio = told["weight the endpoint was told"] / told["pulse weight of the meter"]
    caption = "The weight set is the meter's own." if abs(ratio - 1) < 1e-6 else "The survey gives no pulse weight."
    if np.isfinite(ratio) and abs(ratio - 1) >= 1e-6:
        caption = f"The weight set is {ratio:.6g} times the meter's own."
    values = Series(name="volume", unit="L", x=tuple(known), y=tuple(known.values()))
    return EvidencePicture(title="Weight and start on record", kind="table", series=(values,), caption=caption,
                           x_name="record")  # fmt: skip


def _course(case: Case, row: int, scale: float) -> Series:
    """The index of a row's endpoint at each day's end, since its first read, times ``scale``."""
    walk = case.scan.day_walk[row]
    days = np.flatnonzero(~np.isnan(walk))
    last = int(case.scan.figures["last_us"][row])
    at = [min(case.scan.calendar.start_us + (int(day) + 1) * DAY_US, last) for day in days]
    gap = float(case.pairs.start_gap[row])
    volume = (walk[days] + gap) * float(case.fleet.quantum_index_l[row]) * scale
    return Series(name="this endpoint's index", unit="L", x=moments(at), y=tuple(volume.tolist()))


def neighbour_picture(case: Case, row: int) -> EvidencePicture | None:
    """Show this index with its own dial and with the neighbour's dial that it follows; None where there is none."""
    followed = followed_dial(case, row)
    if followed is None:
        return None
    fleet, pairs = case.fleet, case.pairs
    weight = float(fleet.weight_meter_l[followed])
    scale = weight / float(fleet.weight_set_l[row]) if weight > 0 else 1.0
    series = [_course(case, row, scale)]
    for meter, name in ((row, "its own dial"), (followed, f"dial of meter {fleet.meter_serial[followed]}")):
        looks = pairs.rows_of(meter)
        if len(looks):
            dial = tuple(pairs.dial_l[looks].tolist())
            series.append(Series(name=name, unit="L", x=moments(pairs.at_us[looks]), y=dial, kind="points"))
    caption = (
        f"The index of endpoint {fleet.endpoint_serial[row]}, in pulses of the meter it follows, runs with the dial of "
        f"meter {fleet.meter_serial[followed]}."
    )
    return EvidencePicture(
        title="The neighbour whose dial fits", kind="line", series=tuple(series), caption=caption, zero=True
    )


def followed_dial(case: Case, row: int) -> int | None:
    """Return the row of the meter whose water this row's endpoint counts, where a ring of exchanges names one."""
    for ring in case.notes.rings:
        if row in ring.counted_by and row in ring.rows:
            return int(ring.rows[ring.counted_by.index(row)])
    return None
