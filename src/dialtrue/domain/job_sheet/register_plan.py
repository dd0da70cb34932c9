"""What the survey and the plan say of one register, as the job sheet takes it."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from dialtrue.domain.dial import Dial
from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.index import Index


@dataclass(frozen=True, slots=True)
class PlannedPart:
    """A part of the plan: key of its sheet and how much, in the sheet's unit."""

    part: str
    quantity: Decimal
    kind: str = "part"


@dataclass(frozen=True, slots=True, kw_only=True)
class RegisterPlan:
    """One row of ``sites`` beside its row of ``plan``. None or blank means not known; names are those of the tables."""

    site: str
    meter_serial: str
    register_role: str = "single"
    account: str = ""
    address: str = ""
    area: str = ""
    latitude: float | None = None
    longitude: float | None = None
    mount: str = ""
    meter_type: str = ""
    meter_size: str = ""
    dial_digits: int | None = None
    fixed_zeros: int = 0
    dial_unit: str = ""
    dial_resolution: Decimal | None = None
    pulse_weight: Decimal | None = None
    pulse_unit: str = ""
    visit_day: str = ""
    window_from: str = ""
    window_to: str = ""
    status: str = "planned"
    questions: str = ""
    endpoint: str = ""
    endpoint_number: int | None = None
    port: int | None = None
    input: str = ""
    output: str = ""
    cable: str = ""
    cable_length_m: float | None = None
    pull_up_ohm: float | None = None
    debounce_ms: float | None = None
    index_digits: int | None = None
    index_unit: str = ""
    index_resolution: Decimal | None = None
    weight_set: Decimal | None = None
    weight_unit: str = ""
    start_example_dial: str = ""
    index_note: str = ""
    tamper_loop: str = ""
    tamper_note: str = ""
    proof_kind: str = ""
    proof_volume: Decimal | None = None
    proof_counts_low: int | None = None
    proof_counts_high: int | None = None
    proof_minutes: float | None = None
    proof_high_flow: bool = False
    proof_note: str = ""
    follow_up_days: int | None = None
    parts: tuple[PlannedPart, ...] = ()

    @property
    def dial(self) -> Dial | None:
        """The dial, or None where the survey does not make one."""
        if self.dial_digits is None or not self.dial_unit:
            return None
        value = None if self.dial_resolution is None else Fraction(self.dial_resolution)
        try:
            return Dial.of(
                moving_digits=self.dial_digits, fixed_zeros=self.fixed_zeros, unit=self.dial_unit, resolution=value
            )
        except DialtrueError:
            return None

    @property
    def index(self) -> Index | None:
        """The index as it will be set, or None where the plan does not say it whole."""
        if self.index_digits is None or not self.index_unit or self.index_resolution is None:
            return None
        try:
            return Index.of(digits=self.index_digits, unit=self.index_unit, resolution=Fraction(self.index_resolution))
        except DialtrueError:
            return None
