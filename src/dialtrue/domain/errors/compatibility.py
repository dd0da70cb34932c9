"""Errors of the fit check: data sheets, wire, figures from which nothing can be computed. Exit codes 20 to 29."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class UnknownSheet(DialtrueError):
    """A data sheet key that is in no sheet."""

    code = "UNKNOWN-SHEET"
    exit_code = 20
    message = "There is no {kind} data sheet {key!r}."
    remedy = "Nearest: {nearest}. List all with `dialtrue fit --sheets`, or add your own sheet with --sheet FILE."
    example = {"kind": "output", "key": "reed-contct", "nearest": "reed-contact"}


class SheetFault(DialtrueError):
    """A data sheet that cannot be used, with every fault found in it."""

    code = "SHEET-FAULT"
    exit_code = 21
    message = "{file}: {count} fault(s) in the data sheet.\n{lines}\n"
    remedy = "Correct the keys named above against the sheet that came with the hardware, then repeat."
    example = {
        "file": "our-inputs.toml",
        "count": 1,
        "lines": "  input.radio.pull_up_ohm: -5 is below 0; expected a resistance in ohms above 0",
    }


class ContradictoryThresholds(DialtrueError):
    """An input that would read the same level as closed and as open."""

    code = "CONTRADICTORY-THRESHOLDS"
    exit_code = 22
    message = (
        "Input {input}: it reads closed below {closed_below} {unit} and open above {open_above} {unit}; "
        "one level cannot be both."
    )
    remedy = "The level for closed must lie below the level for open (for a current input, the current above)."
    example = {"input": "radio-3v", "closed_below": 2.1, "open_above": 0.9, "unit": "V"}


class LengthRange(DialtrueError):
    """A cable length that no cable can have."""

    code = "LENGTH-RANGE"
    exit_code = 23
    message = "The cable length {length_m} m is outside 0 to 10000 m."
    remedy = "Give the one-way run between meter and endpoint, such as --length '30 m' or --length '100 ft'."
    example = {"length_m": -3}


class UnknownGauge(DialtrueError):
    """A wire gauge that is not in the tables."""

    code = "UNKNOWN-GAUGE"
    exit_code = 24
    message = "The wire gauge {gauge!r} is not known."
    remedy = "Nearest: {nearest}. Or give ohm_per_km in a cable sheet."
    example = {"gauge": "AWG 57", "nearest": "AWG 40, AWG 39, AWG 38"}


class FigureRange(DialtrueError):
    """A figure that is not finite or outside what the physics allows."""

    code = "FIGURE-RANGE"
    exit_code = 25
    message = "{thing}: {name} = {value} is not usable; it must be {expected}."
    remedy = "Correct the figure, or leave it out: a missing figure is reported as not known."
    example = {"thing": "Chain", "name": "weight_l", "value": "nan", "expected": "above 0 and at most 1e9 L"}


class UnknownFitRule(DialtrueError):
    """A rule id that the fit check does not have."""

    code = "UNKNOWN-FIT-RULE"
    exit_code = 26
    message = "The fit check has no rule {rule!r}."
    remedy = "Use one of {allowed}."
    example = {"rule": "on-tme", "allowed": "on-time, off-time, bounce"}


class UnknownMeterSize(DialtrueError):
    """A meter size without a flow limit in the table."""

    code = "UNKNOWN-METER-SIZE"
    exit_code = 27
    message = "No flow limit is known for the meter size {size!r}."
    remedy = "Use one of {allowed}, or give the maximum flow with --max-flow, such as '160 gal/min' or '25 m3/h'."
    example = {"size": "7in", "allowed": "5/8in, 3/4in, 1in, 2in, DN15"}


class BadMeasure(DialtrueError):
    """A text that is no number with a unit."""

    code = "BAD-MEASURE"
    exit_code = 28
    message = "{text!r} is not a {what}."
    remedy = "Write a number and a unit, such as {sample}. Units: {units}."
    example = {"text": "30 yards", "what": "length", "sample": "'30 m'", "units": "m, ft"}
