"""Check a pulse chain, or all chains of a programme, before anybody drives out."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

from dialtrue.domain.pulse_chain.chain import Chain, FitSettings
from dialtrue.domain.pulse_chain.counting import CountShare, count_curve
from dialtrue.domain.pulse_chain.figures import FitFigures, fit_figures
from dialtrue.domain.pulse_chain.suggest import Choices, Suggestion, suggest
from dialtrue.domain.pulse_chain.timing import FlowLimits, flow_limits
from dialtrue.domain.pulse_chain.verdict import FitVerdict, judge
from dialtrue.domain.pulse_chain.words import reminders, verdict_sentence
from dialtrue.files.sheets import Catalogue, load_catalogue


@dataclass(frozen=True, slots=True, kw_only=True)
class FitRequest:
    """One chain as asked for: sheet keys and figures in canonical units, exact; None or blank = not known."""

    output: str = ""
    input: str = ""
    cable: str = ""
    length_m: Fraction | None = None
    weight_l: Fraction | None = None
    size: str = ""
    max_flow_lpm: Fraction | None = None
    min_flow_lpm: Fraction | None = None
    q3_lpm: Fraction | None = None
    leakage_ohm: Fraction | None = None
    wiring: str = "one_pair"
    use_l_per_day: Fraction | None = None
    resolution_l: Fraction | None = None
    billing_l: Fraction | None = None
    index_digits: int | None = None
    debounce_ms: float | None = None
    weights_l: tuple[Fraction, ...] = ()
    settings: FitSettings = field(default_factory=FitSettings)


@dataclass(frozen=True, slots=True)
class FitAnswer:
    """The answer for one chain."""

    chain: Chain
    verdict: FitVerdict
    figures: FitFigures
    sentence: str
    reminders: tuple[str, ...]
    suggestions: tuple[Suggestion, ...]
    curve: tuple[CountShare, ...]


def sheets_of(paths: Iterable[Path] = ()) -> Catalogue:
    """Return the shipped data sheets and the user's own.

    Raises
    ------
    SheetFault
        A sheet has faults; all are named with line and key.
    """
    return load_catalogue(paths)


def _float(value: Fraction | None) -> float | None:
    """Return an exact figure as the float that the physics works in."""
    if value is None:
        return None
    return float(value) if abs(value) < Fraction(10) ** 300 else float("inf")


def chain_of(request: FitRequest, catalogue: Catalogue) -> Chain:
    """Build the chain that a request describes.

    Parameters
    ----------
    request : FitRequest
        Keys and figures.
    catalogue : Catalogue
        Data sheets.

    Returns
    -------
    Chain
        Flows from the meter's size where the request has none of its own.

    Raises
    ------
    UnknownSheet, UnknownMeterSize, LengthRange, FigureRange
        A key, a size or a figure that cannot be used.

    Source
    ------
    Flow limits: ``US-FLOW-LIMITS``, ``OIML-R49``.
    """
    limits: FlowLimits | None = flow_limits(request.size) if request.size else None
    most, least, q3 = request.max_flow_lpm, request.min_flow_lpm, request.q3_lpm
    if limits is not None:
        most = limits.max_flow_lpm if most is None else most
        least = limits.min_flow_lpm if least is None else least
        q3 = limits.q3_lpm if q3 is None else q3
    capacity = None
    step = request.resolution_l if request.resolution_l is not None else request.weight_l
    if request.index_digits is not None and step is not None:
        capacity = step * 10**request.index_digits
    parts = Chain()
    entry = catalogue.input(request.input) if request.input else parts.input
    if request.debounce_ms is not None and request.input:
        entry = dataclasses.replace(entry, debounce_ms=request.debounce_ms, min_on_ms=None)
    return Chain(
        output=catalogue.output(request.output) if request.output else parts.output,
        input=entry,
        cable=catalogue.cable(request.cable) if request.cable else parts.cable,
        length_m=_float(request.length_m),
        weight_l=_float(request.weight_l),
        max_flow_lpm=_float(most),
        min_flow_lpm=_float(least),
        q3_lpm=_float(q3),
        leakage_ohm=_float(request.leakage_ohm),
        wiring=request.wiring,
        use_l_per_day=_float(request.use_l_per_day),
        resolution_l=_float(request.resolution_l),
        billing_l=_float(request.billing_l),
        index_capacity_l=_float(capacity),
        settings=request.settings,
    )


def check_chain(request: FitRequest, catalogue: Catalogue, *, system: str = "us", suggestions: int = 0) -> FitAnswer:
    """Check one chain.

    Parameters
    ----------
    request : FitRequest
        The chain as asked for.
    catalogue : Catalogue
        Data sheets; every input and cable in it may be suggested.
    system : str
        ``us`` or ``metric``, for the words only.
    suggestions : int
        How many changes to suggest where the chain does not fit. [>= 0]

    Returns
    -------
    FitAnswer

    Raises
    ------
    UnknownSheet, UnknownMeterSize, LengthRange, FigureRange
        A key, a size or a figure that cannot be used.

    Source
    ------
    See ``domain.pulse_chain``.
    """
    chain = chain_of(request, catalogue)
    verdict, figures = judge(chain), fit_figures(chain)
    found: list[Suggestion] = []
    if suggestions:
        choices = Choices(
            weights_l=tuple(float(weight) for weight in request.weights_l),
            inputs=tuple(catalogue.inputs.values()),
            cables=tuple(catalogue.cables.values()),
        )
        found = suggest(chain, choices, most=suggestions)
    return FitAnswer(
        chain,
        verdict,
        figures,
        verdict_sentence(chain, verdict, figures, system=system),
        tuple(reminders(chain, verdict, figures)),
        tuple(found),
        tuple(count_curve(chain)),
    )
