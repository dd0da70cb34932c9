"""Evidence of one change of level in the daily series: by how much, and whether a setting could do it."""

from __future__ import annotations

import numpy as np
from scipy.special import logsumexp

from dialtrue.domain.faults import COLUMN
from dialtrue.domain.finding import Figure
from dialtrue.engine.evidence.frame import N_FAULTS, Block, Case
from dialtrue.engine.evidence.pair_shape import LATE_SHARE
from dialtrue.engine.onsets import K_CHANGE, Onsets
from dialtrue.engine.ratios import DECADE_RATIOS, UNIT_RATIOS
from dialtrue.engine.scan_kernel import DAY_US

SEASON_NAT = 0.35
"""A change that season and holidays make now and then [nat]. Our assumption."""


def _normal(x, mean, sd):
    return -0.5 * ((x - mean) / sd) ** 2 - np.log(sd) - 0.919


def weigh(case: Case, onsets: Onsets) -> Block:
    """Weigh the best single change of daily rate.

    ``gain`` is what the change explains against one level; each fault then says how likely a change of that size is.
    Ports that stand still at the end are left to the standstill block.
    """
    n = case.fleet.size
    figures = case.scan.figures
    still = (figures["last_us"] - figures["moved_us"]) > 2.5 * DAY_US
    gain = np.clip(onsets.change_gain, 0.0, 25.0)
    speaks = (gain > 3.0) & ~still
    rho, sd = onsets.change_log_ratio, np.hypot(np.minimum(onsets.change_sd, 1.0), 0.12)

    def at(r):
        return _normal(rho, np.log(r), sd)

    def over(ratios, weights):
        return logsumexp(np.stack([at(r) + lw for r, lw in zip(ratios, weights, strict=True)]), axis=0)

    def between(low, high):
        points = np.linspace(low, high, 12)
        return logsumexp(np.stack([_normal(rho, p, sd) for p in points]), axis=0) - np.log(len(points))

    # Season, guests and garden make changes too: without a fault the change has the size of a season.
    plain = np.logaddexp(np.log(0.12) + _normal(rho, 0.0, np.hypot(sd, SEASON_NAT)), np.log(0.88) - gain)
    value = np.repeat(plain[:, None], N_FAULTS, axis=1)
    exchanged = over([0.1, 1.0, 10.0], np.log([0.1, 0.8, 0.1]))
    for code, size in (
        ("weight_decade", over(*DECADE_RATIOS)), ("unit_slip", over(*UNIT_RATIOS)), ("double_count", at(2.0)),
        ("lost_counts", between(np.log(0.1), np.log(0.95))), ("extra_counts", between(np.log(1.04), np.log(1.95))),
        ("use_change", _normal(rho, 0.0, np.hypot(sd, 0.9))), ("customer_leak", between(0.1, 1.6)),
        ("wet_counts", between(0.1, 1.4)), ("steady_counts", between(0.2, 3.5)),
        ("backflow_counted", between(0.05, 0.8)),
        ("intermittent", between(-1.5, -0.1)), ("vacant", between(-4.0, -0.7)), ("meter_exchanged", exchanged),
        ("crossed", _normal(rho, 0.0, 1.2)), ("not_listed", _normal(rho, 0.0, 1.5)),
    ):  # fmt: skip
        share = 0.85 if code == "use_change" else LATE_SHARE.get(code, 0.5)
        value[:, COLUMN[code]] = np.logaddexp(np.log(share) + size, np.log(1 - share) + plain)
    block_value = np.where(speaks[:, None], value - value[:, :1], 0.0)

    def says(row: int, column: int) -> tuple[str, dict[str, Figure]]:
        words = "changes once and stays changed" if speaks[row] else "does not change"
        return f"The daily level {words}.", {
            "after_over_before": round(float(np.exp(rho[row])), 4), "gain_nat": round(float(gain[row]), 2),
        }  # fmt: skip

    block = Block.blank("level change", n, says)
    block.loglik = block_value
    quiet = (figures["n"] > 40) & ~speaks & ~still
    block.add("use_change", quiet, -1.2)
    for code in (
        "weight_decade",
        "unit_slip",
        "double_count",
        "lost_counts",
        "extra_counts",
        "use_change",
        "customer_leak",
    ):
        block.since_us[:, COLUMN[code]] = np.where(speaks, onsets.at_us[:, K_CHANGE], 0)
    return block
