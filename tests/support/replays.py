"""Steps of a replay from a few words."""

from __future__ import annotations

from typing import Any

from dialtrue.domain.replay_result import Asked


def asked(meter: str, *, action: str = "visit", fault: str = "dead_input", **other: Any) -> Asked:
    """Return a finding of meter ``meter`` on endpoint ``E-meter`` that asks for an action."""
    given: dict[str, Any] = {
        "meter_serial": meter, "endpoint_serial": f"E-{meter}", "port": 1, "register_role": "single", "fault": fault,
        "probability": 0.9, "runner_up": "sound", "runner_up_probability": 0.1, "action": action, "since": None,
        "volume_error_l": -120.5, "volume_error_low_l": None, "volume_error_high_l": None, "parameter": None,
        "priority": 1.5, "verdict": "Water passes, nothing is counted.",
    }  # fmt: skip
    return Asked(**(given | other))
