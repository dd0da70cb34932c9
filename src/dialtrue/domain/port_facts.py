"""What the words about one port need to know of it: plain figures, gathered once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

TAP_L_MIN: Final = {"metric": 15.0, "US": 18.927}
"""Flow of a tap or hose. [L/min] Our assumption, from field practice: 15 L/min, 5 US gallons a minute."""
METRIC: Final = ("L", "m3")


@dataclass(frozen=True, slots=True)
class PortFacts:
    """Facts of one fitted port. nan, -1 or an empty text is not known.

    Attributes
    ----------
    unit : str
        The dial's unit; volumes are said in it.
    weight_l, survey_weight_l, step_l : float
        Volume per pulse as set and as surveyed, and the dial's reading step. [L]
    use_l_day : float
        Use. [L/day]
    moved_l : float
        What the index has moved since dial and index last agreed. [L]
    waited_l : float
        What has passed since then, by use. [L]
    dial_then_l, dial_capacity_l : float
        The dial at that moment, and what it holds. [L]
    moving_digits, fixed_zeros : int
        The dial's face.
    alike_from : str
        When they last agreed, in words: a day, or "the fitting".
    press : str
        Which digits to press so that the index stands level with the dial.
    other_endpoints : tuple of str
        Endpoints that may be the true ones, or meters that claim the same endpoint.
    """

    meter_serial: str
    endpoint_serial: str
    port: int
    role: str = "single"
    mount: str = ""
    tamper_loop: str = ""
    cut_wire_alarm: bool = False
    low_battery_alarm: bool = False
    unit: str = "L"
    weight_l: float = math.nan
    survey_weight_l: float = math.nan
    step_l: float = math.nan
    use_l_day: float = math.nan
    moved_l: float = math.nan
    waited_l: float = math.nan
    dial_then_l: float = math.nan
    dial_capacity_l: float = math.nan
    moving_digits: int = 0
    fixed_zeros: int = 0
    alike_from: str = "the fitting"
    press: str = ""
    other_endpoints: tuple[str, ...] = ()
    other_meters: tuple[str, ...] = ()

    @property
    def tap_l_min(self) -> float:
        """Flow of a tap in the programme's part of the world. [L/min]"""
        return TAP_L_MIN["metric" if self.unit in METRIC else "US"]

    def dial_after(self, moved_l: float) -> str:
        """Return the positions the dial shows once it has moved so far, "" where that cannot be said.

        Raises
        ------
        Never raises.

        Source
        ------
        Register arithmetic; the least moving digit is rounded down.
        """
        figures = (moved_l, self.dial_then_l, self.dial_capacity_l)
        if not all(math.isfinite(figure) for figure in figures) or self.moving_digits < 1 or self.dial_capacity_l <= 0:
            return ""
        least = self.dial_capacity_l / 10**self.moving_digits
        count = math.floor((self.dial_then_l + moved_l) / least + 1e-9) % 10**self.moving_digits
        return str(count).zfill(self.moving_digits) + "0" * self.fixed_zeros
