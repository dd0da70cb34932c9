"""The registers of a plan: each survey row's dial, weight, sheets, flows and mount, worked out once a distinct case."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final

import numpy as np
import numpy.typing as npt
import pyarrow as pa

from dialtrue.domain.contracts import MOUNTS, ROLES
from dialtrue.domain.dial import Dial
from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.figures import power_of_ten
from dialtrue.domain.planning.settings import BILLING_L, PlanSettings
from dialtrue.domain.pulse_chain.timing import FlowLimits, flow_limits
from dialtrue.domain.quantity import exact_decimal, litres_per
from dialtrue.files.endpoint_sheets import Hardware
from dialtrue.files.sheets import Catalogue
from dialtrue.services.table_columns import by_kind, flat, own_codes

Ints = npt.NDArray[np.int64]
Floats = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

LEAST_WEIGHT_L: Final = Fraction(1, 10**6)
MOST_WEIGHT_L: Final = Fraction(10**9)
"""Volumes per pulse outside of which the survey is asked about. [L] Our assumption: no meter comes near either."""


@dataclass(frozen=True, slots=True)
class DialCase:
    """One distinct register: dial, weight, and what is odd about them (``questions``: code and detail)."""

    dial: Dial | None
    weight_l: Fraction | None
    weight_text: str
    weight_unit: str
    billing_l: Fraction | None
    q3_lpm: Fraction | None
    questions: tuple[tuple[str, str], ...]


@dataclass(slots=True)
class Registers:
    """Every row of the sites as codes and figures. -1: blank or not known; NaN: not known.

    ``case`` place in ``cases``; ``output``, ``cable``, ``input``, ``endpoint`` places among the sheets; ``mount`` in
    ``MOUNTS``; ``role`` in ``ROLES``; ``flow`` place in ``flows`` (None: not known). ``asked``: rows and detail by
    question code.
    """

    rows: int
    case: Ints
    cases: list[DialCase]
    output: Ints
    cable: Ints
    input: Ints
    endpoint: Ints
    mount: Ints
    role: Ints
    site: Ints
    serial: Ints
    compound: Flags
    flow: Ints
    flows: list[FlowLimits | None]
    sizes: list[str]
    length_m: Floats
    use_l_per_day: Floats
    asked: dict[str, list[tuple[Ints, str]]] = field(default_factory=dict)

    def ask(self, code: str, rows: Ints, detail: str = "") -> None:
        """Note a question for some rows."""
        if len(rows):
            self.asked.setdefault(code, []).append((rows, detail))


def registers_of(table: pa.Table, catalogue: Catalogue, hardware: Hardware, settings: PlanSettings) -> Registers:
    """Read the sites table as registers.

    Parameters
    ----------
    table : pa.Table
        Sites in the contract's form.
    catalogue, hardware : Catalogue, Hardware
        Data sheets.
    settings : PlanSettings
        What stands where the survey is blank.

    Returns
    -------
    Registers
        What is missing or odd is noted as a question.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """

    def dial_case(
        digits: object, zeros: object, unit: object, step: object, weight: object, weight_unit: object, size: object
    ) -> DialCase:
        limits = _flows(size)
        q3 = None if limits is None else limits.q3_lpm
        return _dial_case(digits, zeros, str(unit), step, weight, str(weight_unit), settings.billing_l, q3)

    names = (
        "dial_digits", "fixed_zeros", "dial_unit", "dial_resolution", "pulse_weight", "pulse_unit", "meter_size",
    )  # fmt: skip
    case, cases = by_kind([table[name] for name in names], dial_case)
    flow, flows = by_kind([table["meter_size"]], lambda size: (size, _flows(size)))
    role, roles = own_codes(table["register_role"])
    kind, kinds = own_codes(table["meter_type"])
    site, _ = own_codes(table["site"])
    serial, _ = own_codes(table["meter_serial"])
    mount, mounts = own_codes(table["mount"])
    unknown = np.full(table.num_rows, -1, np.int64)
    registers = Registers(
        rows=table.num_rows,
        case=case,
        cases=cases,
        output=unknown,
        cable=unknown,
        input=unknown,
        endpoint=unknown,
        mount=_recoded(mount, [MOUNTS.index(word) if word in MOUNTS else -1 for word in mounts]),
        role=_recoded(role, [ROLES.index(word) if word in ROLES else 0 for word in roles]),
        site=site,
        serial=serial,
        compound=_recoded(kind, [int(word == "compound") for word in kinds]).astype(np.bool_),
        flow=flow,
        flows=[limits for _, limits in flows],
        sizes=["" if size is None else str(size) for size, _ in flows],
        length_m=_numbers(table, "cable_length_m", settings.cable_length_m),
        use_l_per_day=_numbers(table, "use_l_per_day", None),
    )
    for name, keys, blank in (
        ("output", catalogue.outputs, settings.output),
        ("cable", catalogue.cables, settings.cable),
        ("input", catalogue.inputs, settings.input),
        ("endpoint", hardware.endpoints, ""),
    ):
        setattr(registers, name, _sheets(registers, table, name, keys, blank))
    _ask_figures(registers)
    return registers


def _dial_case(
    digits: object,
    zeros: object,
    unit: str,
    step: object,
    weight: object,
    weight_unit: str,
    billing_l: Fraction | None,
    q3_lpm: Fraction | None,
) -> DialCase:
    """Return one distinct register."""
    questions: list[tuple[str, str]] = []
    dial = weight_l = None
    try:
        resolution = None if step is None else exact_decimal(str(step))
        dial = Dial.of(
            moving_digits=int(str(digits)), fixed_zeros=int(str(zeros or 0)), unit=unit, resolution=resolution
        )
    except (DialtrueError, ValueError):
        questions.append(("bad_dial", f"{step} {unit}"))
    if dial is not None and power_of_ten(dial.resolution) is None:
        questions.append(("bad_dial", f"{step} {unit}"))
    text = str(weight)
    volume = exact_decimal(text) * litres_per(weight_unit)
    if LEAST_WEIGHT_L <= volume <= MOST_WEIGHT_L:
        weight_l = volume
    else:
        questions.append(("weight_not_offered", f"{text} {weight_unit}"))
    if power_of_ten(litres_per(weight_unit) / litres_per(unit)) is None:
        questions.append(("unit_differs", f"{unit} and the pulses are said to be {text} {weight_unit}"))
    billing = billing_l or BILLING_L.get(unit)
    return DialCase(dial, weight_l, text, weight_unit, billing, q3_lpm, tuple(dict.fromkeys(questions)))


def _flows(size: object) -> FlowLimits | None:
    """Return the flow limits of a size, None where no table has it."""
    try:
        return None if size is None else flow_limits(str(size))
    except DialtrueError:
        return None


def _recoded(codes: Ints, values: list[int]) -> Ints:
    """Return codes put into other codes."""
    return np.array(values or [-1], np.int64)[codes] if len(codes) else codes


def _numbers(table: pa.Table, name: str, blank: float | None) -> Floats:
    """Return a column of numbers, NaN or the stand-in where blank."""
    column = flat(table[name]).cast(pa.float64()).to_numpy(zero_copy_only=False).astype(np.float64)
    return column if blank is None else np.where(np.isnan(column), blank, column)


def _sheets(registers: Registers, table: pa.Table, name: str, keys: Iterable[str], blank: str) -> Ints:
    """Return each row's place among the sheets, -1 where blank or not known; not known is asked."""
    place_of = {key: place for place, key in enumerate(keys)}
    codes, values = own_codes(table[name])
    places = []
    for code, value in enumerate(values):
        key = blank if value is None else str(value)
        places.append(place_of.get(key, -1))
        if key and key not in place_of:
            registers.ask(f"unknown_{name}", np.flatnonzero(codes == code), key)
    return _recoded(codes, places)


def _ask_figures(registers: Registers) -> None:
    """Note what is blank and needed."""
    no_output = registers.output < 0
    for rows, _ in registers.asked.get("unknown_output", []):
        no_output[rows] = False
    registers.ask("no_output", np.flatnonzero(no_output))
    registers.ask("no_length", np.flatnonzero(np.isnan(registers.length_m)))
    registers.ask("no_mount", np.flatnonzero(registers.mount < 0))
    for place, (size, limits) in enumerate(zip(registers.sizes, registers.flows, strict=True)):
        if limits is None:
            code = "unknown_size" if size else "no_size"
            registers.ask(code, np.flatnonzero(registers.flow == place), size)
    for place, case in enumerate(registers.cases):
        for code, detail in case.questions:
            registers.ask(code, np.flatnonzero(registers.case == place), detail)
