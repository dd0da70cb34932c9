"""What stands behind one verdict, as terminal text: 100 columns, no colour, signs and bars in plain characters."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from dialtrue.domain.explanation import DayProfile, Explanation, Fingerprint, WetDry, bits_rows
from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.figure_words import figure_words, number_text
from dialtrue.domain.finding import Finding
from dialtrue.domain.trace_picture import picture_of
from dialtrue.domain.words import counted, day_text, printable, probability_text
from dialtrue.interfaces.cli.drums import drum_lines
from dialtrue.interfaces.cli.output import WIDTH, aligned, error_text, wrapped

CHANCE_BAR: Final = 16
TITLE_ROOM: Final = 48
BITS_BAR: Final = 12
BITS_FULL: Final = 12.0
"""Bits that fill a bar; a longer one ends in a mark. Ours: twelve bits are odds of four thousand to one."""
SILENT_BITS: Final = 0.05
"""Bits below which a block is only named. Ours: they would print as 0.0."""
_MINUS: Final = "\N{MINUS SIGN}"


def explain_lines(explained: Sequence[Explanation]) -> list[str]:
    """Return the text of every port that was asked for, a blank line between them."""
    lines: list[str] = []
    for place, item in enumerate(explained):
        lines += [""] if place else []
        lines += port_lines(item)
    return lines


def port_lines(item: Explanation) -> list[str]:
    """Return the text of one port."""
    finding = item.finding
    lines = [printable(_name(item))[:WIDTH], *wrapped(finding.verdict, indent=2), *_facts(finding, item)]
    parts = (
        ("Leading causes", _chances(item)),
        ("Dial and index, lined up", _drums(item)),
        ("Looks at the dial", _looks(item)),
        ("What each block says for the named cause, in bits (one bit doubles the odds)", _bits(item)),
        ("Number fingerprints", _fingerprint(item.fingerprint)),
        ("Wet and dry hours", _wet_dry(item.wet_dry, item.trace.dial_unit)),
        ("Hours of the day with a count (0 none, 9 the fullest hour)", _day(item.day_profile)),
        ("Neighbour", _neighbour(item)),
    )
    for title, part in parts:
        lines += ["", title, *part]
    return lines


def _name(item: Explanation) -> str:
    finding, trace = item.finding, item.trace
    role = "" if finding.register_role in ("", "single") else f" {finding.register_role}"
    place = trace.address or (f"site {trace.site}" if trace.site else "")
    bits = [f"Meter {finding.meter_serial}{role}", f"endpoint {finding.endpoint_serial} port {finding.port}"]
    bits += [place] if place else []
    bits += [f"fitted {day_text(trace.fitted_at)}"] if trace.fitted_at is not None else []
    return ", ".join(bits)


def _facts(finding: Finding, item: Explanation) -> list[str]:
    """Doubt, onset with its interval, volume error, what to look at, what puts it right."""
    trace = item.trace
    since = f"Since {day_text(finding.since)}" if finding.since is not None else ""
    if since and trace.since_low is not None and trace.since_high is not None and trace.since_low < trace.since_high:
        since += f" (90 %: {day_text(trace.since_low)} to {day_text(trace.since_high)})"
    words = f"{finding.fault}: {probability_text(finding.probability)}. {since + '. ' if since else ''}"
    lines = wrapped(f"{words}Volume error {error_text(finding, trace.dial_unit)}.", indent=2)
    lines += wrapped(finding.next_check, indent=2, label="look") if finding.next_check else []
    lines += wrapped(finding.remedy, indent=2, label="mend") if finding.action != "none" else []
    return lines


def _chances(item: Explanation) -> list[str]:
    rows = [
        (
            chance.fault,
            ("#" * round(CHANCE_BAR * chance.probability)).ljust(CHANCE_BAR, "."),
            f"{chance.probability:.3f}" if chance.probability >= 0.001 else "under 0.001",
            textwrap.shorten(CATALOGUE[chance.fault].title, TITLE_ROOM, placeholder=" ..."),
        )
        for chance in item.chances
    ]
    return aligned(rows, right=(2,))


def _drums(item: Explanation) -> list[str]:
    picture = picture_of(item.trace)
    if picture is None:
        return ["  No dial read has an index beside it."]
    when = "At the fitting" if picture.at_fitting else day_text(picture.point.at)
    return [line.rstrip() for line in (f"{when}:", *drum_lines(picture.lined_up))]


def _looks(item: Explanation) -> list[str]:
    """Each look with what has moved since the fitting, the difference, and what reading noise could make of it."""
    if not item.looks:
        return ["  Nobody has looked since the fitting."]
    unit = item.trace.dial_unit
    rows = [("seen", "by", "dial", "index", f"dial {unit}", f"index {unit}", "index less dial", "noise")]
    for look in item.looks:
        apart = "" if look.difference is None else number_text(look.difference, signed=True)
        rows.append(
            (
                day_text(look.at),
                printable(look.source),
                printable(look.dial_text),
                "no read" if look.index_count is None else str(look.index_count),
                *(
                    "" if value is None else number_text(value, digits=6)
                    for value in (look.dial_volume, look.index_volume)
                ),
                apart,
                "" if look.noise is None else number_text(look.noise, digits=3),
            )
        )
    return [line[:WIDTH] for line in aligned(rows, right=(2, 3, 4, 5, 6, 7))]


def _bits(item: Explanation) -> list[str]:
    """A bar to the left of the bar speaks against, one to the right speaks for; figures carry their sign."""
    two = item.other != item.finding.runner_up
    rows = [("", "against: " + item.other, "", "against: " + item.finding.runner_up if two else "")]
    silent = [say.block for say in item.says if max(abs(say.bits_to_other), abs(say.bits_to_runner_up)) < SILENT_BITS]
    for name, _, other, runner_up in bits_rows(item):
        if name in silent:
            continue
        rows.append((name, bits_bar(other), _bits_text(other), _bits_text(runner_up) if two else ""))
    lines = [line.rstrip() for line in aligned(rows, right=(2, 3))]
    lines += wrapped(f"Nothing either way: {', '.join(silent)}.", indent=2) if silent else []
    said = []
    for say in item.says:
        if max(abs(say.bits_to_other), abs(say.bits_to_runner_up)) < 0.5:
            continue
        figures = "; ".join(figure_words(name, value, item.trace.dial_unit) for name, value in say.figures.items())
        said += wrapped(f"{say.block}: {say.says} {figures}", indent=2)
    return lines + (["", *said] if said else [])


def bits_bar(bits: float) -> str:
    """Draw bits about a middle: minus signs to the left, plus signs to the right, an arrow where they run over."""
    length = min(round(abs(bits) / BITS_FULL * BITS_BAR), BITS_BAR)
    over = abs(bits) > BITS_FULL
    if bits < 0:
        return (("<" if over else "-") + "-" * (length - 1) if length else "").rjust(BITS_BAR) + "|" + " " * BITS_BAR
    bar = "+" * (length - 1) + (">" if over else "+") if length else ""
    return " " * BITS_BAR + "|" + bar.ljust(BITS_BAR)


def _bits_text(bits: float) -> str:
    rounded = round(bits, 1)
    return "0.0" if rounded == 0 else f"{'+' if rounded > 0 else _MINUS}{abs(rounded):.1f}"


def _fingerprint(numbers: Fingerprint | None) -> list[str]:
    if numbers is None:
        return ["  No steps: fewer than two reads."]
    if not numbers.steps:
        return wrapped(f"No step moved anything; {counted(numbers.short_steps, 'short step')} seen.", indent=2)
    asked = numbers.weight_over_resolution
    grain = (
        f"the record asks for multiples of {asked}"
        if asked is not None
        else "the record gives no whole number of counts a pulse"
    )
    lines = wrapped(f"Every step is a multiple of {numbers.common_divisor}; {grain}.", indent=2)
    odd = f"{numbers.odd_steps:,} of {counted(numbers.steps, 'step')} hold an odd number of pulses"
    return lines + wrapped(
        f"{odd}; {numbers.zero_steps:,} of {counted(numbers.short_steps, 'short step')} moved nothing.", indent=2
    )


def _wet_dry(weather: WetDry | None, unit: str) -> list[str]:
    if weather is None:
        return ["  The weather of these hours is not known."]
    wet, expected, dry = (
        number_text(rate, digits=3)
        for rate in (weather.wet_per_hour, weather.expected_wet_per_hour, weather.dry_per_hour)
    )
    return wrapped(
        f"{weather.wet_hours:,} wet hours at {wet} {unit}/h, where dry hours of the same time of day would give "
        f"{expected}; {weather.dry_hours:,} dry hours at {dry} {unit}/h.",
        indent=2,
    )


def _day(profile: DayProfile | None) -> list[str]:
    if profile is None:
        return ["  No counts, or reads too sparse to speak of hours."]
    rows = [("hour", "0     6     12    18   23")]
    for name, shares in (("this port", profile.port), ("the town", profile.town)):
        top = max(shares) or 1.0
        rows.append((name, "".join(str(round(9 * share / top)) for share in shares)))
    return aligned(rows)


def _neighbour(item: Explanation) -> list[str]:
    fit = item.neighbour
    if fit is None:
        return ["  No neighbour's dial explains this index."]
    return wrapped(
        f"This index follows the dial of meter {fit.meter_serial}; endpoint {fit.counted_by_endpoint} port "
        f"{fit.counted_by_port} counts this meter. Exchanged: {fit.kind or 'wires or records'}; the matches add up to "
        f"{fit.bits:.1f} bits.",
        indent=2,
    )
