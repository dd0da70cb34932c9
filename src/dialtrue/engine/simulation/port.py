"""One fitted port on its way from water to reads: what is true, what was recorded, what was counted."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from dialtrue.engine.simulation.demand import UseCurve
from dialtrue.engine.simulation.meters import Setting
from dialtrue.engine.simulation.places import RegisterSpec
from dialtrue.engine.simulation.sky import Sky
from dialtrue.engine.simulation.train import UL_PER_L, dial_digits_at, floor_scaled, index_unwrapped, passes, pulses_at

FLAG_NONE, FLAG_ESTIMATED, FLAG_REPEATED = 0, 1, 2


@dataclass(frozen=True, slots=True)
class Fate:
    """What befalls one port: the fault code, when it begins [s since 1970], how bad it is [0 to 1], who shares it.

    ``export`` is the ratio that a changed export lays on the index of many ports from one date on, 0 for none.
    """

    code: str = "sound"
    onset_s: int = 0
    severity: float = 0.0
    partners: tuple[int, ...] = ()
    export: float = 0.0


SOUND = Fate()


@dataclass(slots=True)
class Port:
    """Working state of one fitted port.

    ``marks_s`` are the instants at which the index is latched. ``volume_ul`` is what the register has turned since the
    fitting at each mark, ``counts`` what the input has counted, ``index`` the counter before its rollover. ``later`` is
    a setting that took the place of ``actual`` at an instant [s since 1970]; ``carried_s`` the instant whose index was
    carried over as the start of a new endpoint.
    """

    spec: RegisterSpec
    fate: Fate
    curve: UseCurve
    sky: Sky
    marks_s: np.ndarray
    end_s: int
    recorded: Setting
    actual: Setting
    dial_ul: int
    removed_s: int | None = None
    true_factor: float = 1.0
    dial_turns: int = 1
    new_dial: tuple[int, int] | None = None
    volume_ul: np.ndarray = field(default_factory=lambda: np.empty(0, np.int64))
    counts: np.ndarray = field(default_factory=lambda: np.empty(0, np.int64))
    index: np.ndarray = field(default_factory=lambda: np.empty(0, np.int64))
    dial_seen: int = 0
    dial_recorded: str = ""
    start_right: int = 0
    start_keyed: int = 0
    since_s: int | None = None
    parameter: float | None = None
    variant: str = ""
    alarms: list[tuple[int, str]] = field(default_factory=list)
    silent: bool = False
    later: tuple[int, Setting] | None = None
    carried_s: int | None = None

    @property
    def fitted_s(self) -> int:
        """When the port was fitted. [s since 1970]"""
        return self.spec.fitted_s

    def turned_ul(self, at_s: np.ndarray) -> np.ndarray:
        """Return what the register has turned since the fitting, net of reverse flow. [µL]"""
        return self.curve.volume_ul(at_s) - self.curve.volume_ul(np.array([self.fitted_s]))[0]

    def true_l(self, at_s: int) -> float:
        """Return the true volume since the fitting. [L]"""
        return float(self.turned_ul(np.array([at_s]))[0]) / UL_PER_L / self.true_factor

    def dial_at(self, at_s: int) -> int:
        """Return the moving digits that the dial shows at an instant."""
        turned = int(self.turned_ul(np.array([at_s]))[0])
        holds = self.dial_ul + self.dial_turns * turned
        if self.new_dial is not None and at_s >= self.new_dial[0]:
            turned_out = int(self.turned_ul(np.array([self.new_dial[0]]))[0])
            holds = self.new_dial[1] + turned - turned_out
        return dial_digits_at(holds, resolution_l=self.spec.face.resolution_l, digits=self.spec.face.digits)

    def pulses(self, at_s: np.ndarray, *, from_s: int | None = None) -> np.ndarray:
        """Return the pulses that the register has given since ``from_s`` (the fitting), forward flow only."""
        base = self.curve.volume_ul(np.array([self.fitted_s if from_s is None else from_s]))[0]
        turned = self.curve.volume_ul(at_s) - base
        return pulses_at(turned, phase_ul=self.spec.phase_ul, weight_l=self.spec.face.weight_l)

    def pulse_passes(self, at_s: np.ndarray) -> np.ndarray:
        """Return how often the contact was passed since the fitting, both ways."""
        inside = (self.curve.time_s > self.fitted_s) & (self.curve.time_s < self.end_s)
        when = np.unique(np.concatenate(([self.fitted_s], self.curve.time_s[inside], at_s)))
        passed = passes(self.turned_ul(when), phase_ul=self.spec.phase_ul, weight_l=self.spec.face.weight_l)
        return passed[np.searchsorted(when, at_s)]

    def each_pulse(self) -> tuple[np.ndarray, np.ndarray]:
        """Return instant [s since 1970] and flow [L/s] of every pulse up to the last mark, in order."""
        total = int(self.pulses(self.marks_s[-1:])[0]) if len(self.marks_s) else 0
        number = np.arange(1, total + 1, dtype=np.int64)
        base_l = float(np.interp(self.fitted_s, self.curve.time_s, self.curve.volume_l))
        target = base_l + number * float(self.spec.face.weight_l) - self.spec.phase_ul / UL_PER_L
        row = np.clip(np.searchsorted(self.curve.volume_l, target, side="left"), 1, len(self.curve.time_s) - 1)
        flow = np.maximum(self.curve.flow_l_s[row - 1], 1e-9)
        return self.curve.time_s[row - 1] + (target - self.curve.volume_l[row - 1]) / flow, flow

    def read_dial_and_key(self) -> None:
        """Let the fitter read the dial and key the start index, both rightly."""
        self.dial_seen = self.dial_at(self.fitted_s)
        self.dial_recorded = self.spec.face.text(self.dial_seen)
        self.start_right = self.recorded.index_of_dial(self.dial_seen, self.spec.face)
        self.start_keyed = self.start_right % self.recorded.capacity

    def count(self) -> None:
        """Let a sound input count every pulse."""
        self.volume_ul = self.turned_ul(self.marks_s)
        self.counts = self.pulses(self.marks_s)

    def run_counter(self) -> None:
        """Turn counts into the index, before its rollover."""
        step_l = self.actual.resolution_l
        if self.later is None:
            self.index = index_unwrapped(
                self.counts, start=self.start_keyed, weight_l=self.actual.weight_l, resolution_l=step_l
            )
            return
        at_s, setting = self.later
        before = int(self.pulses(np.array([at_s]))[0])
        old = index_unwrapped(
            np.minimum(self.counts, before), start=self.start_keyed, weight_l=self.actual.weight_l, resolution_l=step_l
        )
        self.index = old + floor_scaled(np.maximum(self.counts - before, 0), setting.weight_l / step_l)

    @property
    def shown(self) -> np.ndarray:
        """The index as sent."""
        return self.index % self.actual.capacity

    @property
    def recorded_index(self) -> np.ndarray:
        """The index that a reader of the records sees: legal rollovers undone, an undeclared smaller capacity not."""
        top = self.start_right - self.start_right % self.recorded.capacity
        if self.actual.capacity < self.recorded.capacity:
            return self.shown + top
        return self.index + top

    def counted_l(self, row: int, *, dial_seen: int | None = None) -> float:
        """Return the volume that the read of one mark says has passed since the fitting. [L]"""
        seen = self.dial_seen if dial_seen is None else dial_seen
        return float(int(self.recorded_index[row]) * self.recorded.resolution_l - seen * self.spec.face.resolution_l)


def later_counts(counted_each: np.ndarray, pulses: np.ndarray) -> np.ndarray:
    """Return what an input has counted at each mark, from how often it counts each pulse and the pulses by then."""
    total = np.concatenate(([0], np.cumsum(counted_each)))
    return total[np.minimum(pulses, len(counted_each))]


__all__ = ["FLAG_ESTIMATED", "FLAG_NONE", "FLAG_REPEATED", "SOUND", "Fate", "Port", "floor_scaled", "later_counts"]
