"""A peer: scikit-learn's IsolationForest on sensible figures of each port. It finds the odd; it cannot name why."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np

from benchmarks.peers.port_figures import DAY_S, PortFigures, port_figures
from dialtrue.domain.finding import Crossing, Finding


def judge(folder: Path, *, seed: int = 0) -> tuple[list[Finding], list[Crossing]]:
    """Send a visit to every port that the forest calls an outlier (its own threshold, ``contamination="auto"``)."""
    from sklearn.ensemble import IsolationForest

    ports = port_figures(folder)
    rows = np.array([_features(port) for port in ports])
    forest = IsolationForest(n_estimators=200, random_state=seed).fit(rows)
    score = -forest.score_samples(rows)
    odd = forest.predict(rows) < 0
    findings = [
        Finding(
            port.meter, port.endpoint, port.port, port.role, "not_listed" if flag else "sound",
            float(np.clip(value, 0, 1)), "", 0.0, "visit" if flag else "none", None, None, None, None, None, "", "", "",
            priority=float(value),
        )
        for port, value, flag in zip(ports, score, odd, strict=True)
    ]  # fmt: skip
    return findings, []


def _features(port: PortFigures) -> list[float]:
    """Return one row of figures; what is unknown takes the value of a port that is right."""
    ratio = port.ratio()
    offsets = port.offsets()
    count = len(port.at_s)
    still, night = 0.0, 0.0
    if count > 1:
        moved = np.concatenate((port.at_s[:1], port.at_s[1:][port.steps_l > 0], port.at_s[-1:]))
        still = math.log1p(np.diff(moved).max() / DAY_S)
        hour = (port.at_s[1:] // 3600) % 24
        small = (hour >= 7) & (hour < 10)
        night = float(port.steps_l[small].mean() / (port.steps_l.mean() + 1e-9)) if small.any() else 0.0
        peak = float((port.steps_l / np.maximum(np.diff(port.at_s) / 3600, 0.25)).max() / port.max_l_h)
    else:
        peak = 0.0
    change = port.use_l_day / port.history_l_day if port.history_l_day > 0 and port.use_l_day >= 0 else 1.0
    return [
        0.0 if math.isnan(ratio) else math.log(max(abs(ratio), 1e-3)),
        float(ratio < 0),
        0.0 if not len(offsets) else math.asinh(float(offsets[-1]) / port.grain_l),
        math.asinh(port.start_offset_l / port.grain_l),
        math.log(max(change, 1e-3)),
        math.log(port.weight_ratio),
        math.log1p(port.falls),
        math.log(port.wet_over_dry) if port.wet_over_dry > 0 else 0.0,
        still,
        night,
        math.log1p(peak),
        float(port.rivals),
        float(count < 2),
        float(port.even),
    ]
