"""What a programme may say of its plans: billing unit, endpoints on hand, what stands where the survey is blank."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

from dialtrue.domain.quantity import litres_per

_GALLON: Final = litres_per("gal")

BILLING_L: Final[Mapping[str, Fraction]] = {
    "gal": 1000 * _GALLON,
    "kgal": 1000 * _GALLON,
    "ft3": 100 * litres_per("ft3"),
    "ccf": 100 * litres_per("ft3"),
    "gal_imp": 1000 * litres_per("gal_imp"),
    "L": Fraction(1000),
    "m3": Fraction(1000),
    "acre_ft": litres_per("acre_ft") / 100,
}
"""Billing unit by the dial's unit. [L] Our assumption: thousands of gallons, hundreds of cubic feet, cubic metres;
override by ``--billing`` or ``plan.billing``."""

TAP_FLOW_LPM: Final[Mapping[str, Fraction]] = {
    "1in": 5 * _GALLON, "2in": 20 * _GALLON, "": 100 * _GALLON,
}  # fmt: skip
"""Likely flow of a draw up to that meter size; the last for larger ones. [L/min] Our assumption: a hose, a garden or
process valve, a hydrant; override by ``plan.tap_flow``."""

SKILLS: Final[Mapping[str, tuple[str, ...]]] = {"pole": ("ladder",), "vault": ("confined_space",)}
"""Skills by mount; ``vault`` is a pit for a large or compound meter. Our assumption; override by ``plan.skills``."""

TOOLS_OF_SKILL: Final[Mapping[str, tuple[str, ...]]] = {"confined_space": ("gas-tester",)}
"""Tools that go along where a visit asks for a skill. Common practice: test the air before anybody climbs in."""

VAULT_SIZES: Final = ("3in", "4in", "6in", "DN80", "DN100", "DN150")
"""Meter sizes whose pit one climbs into. Our assumption; the survey's ``skills`` column adds to it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanSettings:
    """The table ``[plan]`` of ``programme.toml``.

    Attributes
    ----------
    billing_l : Fraction or None
        The unit that is billed; None: by the dial's unit (``BILLING_L``). [L, > 0]
    endpoints : tuple of str
        Endpoint sheets on hand, the preferred first; empty: the programme's own sheets, or all shipped ones.
    output, input, cable : str
        Sheets that stand where the survey is blank.
    cable_length_m : float or None
        Run that stands where the survey is blank. [m, 0 .. 10000]
    cable_slack_share : Fraction
        Cable beyond the surveyed run: two loops, and enough to lift the lid. [0 .. 2] Our assumption.
    tap_flow_lpm : Fraction or None
        Flow of a draw at every site; None: by meter size (``TAP_FLOW_LPM``). [L/min, > 0]
    follow_up_days : int
        Days until the second dial read. [25 .. 45] Models, section 3.
    job_minutes : mapping of str to float
        Work on site by mount, in place of the endpoint sheet's. [min, 0 .. 1440]
    skills : mapping of str to tuple
        Skills by mount, and ``vault``; see ``SKILLS``.
    coldest_c : float or None
        Coldest place of the programme: endpoints made for less cold are left out. [C]
    """

    billing_l: Fraction | None = None
    endpoints: tuple[str, ...] = ()
    output: str = ""
    input: str = ""
    cable: str = ""
    cable_length_m: float | None = None
    cable_slack_share: Fraction = Fraction(15, 100)
    tap_flow_lpm: Fraction | None = None
    follow_up_days: int = 35
    job_minutes: Mapping[str, float] = field(default_factory=dict)
    skills: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: SKILLS)
    coldest_c: float | None = None
