"""Plain text for the terminal: one summary line, then what needs a person, then the rest. 100 columns, no colour."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from dialtrue.domain.faults import CATALOGUE, INNOCENT
from dialtrue.domain.finding import Crossing, Finding, asking, naming
from dialtrue.domain.watch_result import PortTrace, WatchResult
from dialtrue.domain.words import (
    counted,
    day_text,
    interval_text,
    printable,
    probability_text,
    summary_sentence,
    volume_text,
)
from dialtrue.interfaces.cli.drums import drum_lines

if TYPE_CHECKING:  # the service draws in the table library, which help must not wait for
    from dialtrue.services.compare_planted import PlantedScore

WIDTH = 100
DRUMS_SHOWN = 3
PROBLEMS_SHOWN = 3
REPAIRS_SHOWN = 12


def aligned(rows: Sequence[Sequence[str]], *, right: Iterable[int] = (), indent: int = 2) -> list[str]:
    """Lay rows out in columns; columns named in ``right`` are set to the right."""
    if not rows:
        return []
    to_right = set(right)
    widths = [max(len(row[column]) for row in rows) for column in range(len(rows[0]))]
    lines = []
    for row in rows:
        cells = [
            cell.rjust(width) if column in to_right else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        lines.append((" " * indent + "  ".join(cells)).rstrip())
    return lines


def wrapped(text: str, *, indent: int = 4, label: str = "") -> list[str]:
    """Wrap a sentence at the page's width, with a label hanging in front."""
    first = " " * indent + (f"{label:<7}" if label else "")
    rest = " " * (indent + (7 if label else 0))
    return textwrap.wrap(
        printable(text), WIDTH, initial_indent=first, subsequent_indent=rest, break_long_words=True
    ) or [first.rstrip()]


def error_text(finding: Finding, unit: str) -> str:
    """Say the volume error with its interval, in the dial's unit."""
    if finding.volume_error_l is None:
        return "not known"
    low, high = finding.volume_error_low_l, finding.volume_error_high_l
    if low is None or high is None:
        return volume_text(finding.volume_error_l, unit, signed=True)
    middle = volume_text(finding.volume_error_l, unit, signed=True, half_width_l=(high - low) / 2.0)
    return middle if low == high else f"{middle} (90\N{NO-BREAK SPACE}%: {interval_text(low, high, unit)})"


def _port_name(finding: Finding) -> str:
    """Name the meter and the port a finding is about."""
    meter = finding.meter_serial or "no fitting"
    role = "" if finding.register_role in ("", "single") else f" {finding.register_role}"
    return printable(f"{meter}{role}")


def finding_lines(place: int, finding: Finding, trace: PortTrace | None, unit: str, *, picture: list[str]) -> list[str]:
    """Print one finding that asks for an action."""
    address = printable(trace.address or trace.site) if trace is not None else ""
    head = f"{place:>2}  {_port_name(finding)}"
    tail = f"endpoint {printable(finding.endpoint_serial)} port {finding.port}"
    lines = [f"{head}  {address}".rstrip()[: WIDTH - len(tail) - 2].ljust(WIDTH - len(tail)) + tail]
    lines += wrapped(finding.verdict or f"{CATALOGUE[finding.fault].title}.")
    doubt = f"{finding.fault}: {probability_text(finding.probability)}"
    if finding.runner_up_probability >= 0.01:
        doubt += f"; else {finding.runner_up}, {finding.runner_up_probability:.2f}"
    since = "" if finding.since is None else f" Since {day_text(finding.since)}."
    lines += wrapped(f"{doubt}.{since} Volume error {error_text(finding, unit)}.")
    lines += picture
    if finding.next_check:
        lines += wrapped(finding.next_check, label="check")
    return lines


def picture_lines(trace: PortTrace) -> list[str]:
    """Print the dial above the index, lined up digit by digit, at the last dial read that has an index beside it."""
    from dialtrue.domain.trace_picture import picture_of

    picture = picture_of(trace)
    if picture is None or picture.at_fitting:
        return []
    dial, marks, index, *_ = drum_lines(picture.lined_up)  # the sentence and the notes would say the verdict again
    return [f"    {line}".rstrip()[:WIDTH] for line in (f"{dial}, {day_text(picture.point.at)}", marks, index)]


def crossing_lines(crossings: Sequence[Crossing]) -> list[str]:
    """Print each ring of exchanged endpoints on lines of its own."""
    rows = [("ring", "meter", "recorded endpoint", "counted by", "what", "probability")]
    for row in crossings:
        port = f" port {row.true_port}" if row.true_port != 1 else ""
        rows.append(
            (
                str(row.ring),
                printable(row.meter_serial),
                printable(row.endpoint_serial),
                printable(row.true_endpoint_serial) + port,
                row.kind or "wires or records",
                probability_text(row.probability),
            )
        )
    return aligned(rows, right=(0,))


def count_lines(by_fault: dict[str, int]) -> list[str]:
    """Print the count of each cause, innocents left out."""
    rows = [
        (f"{count:,}", code, CATALOGUE[code].title)
        for code, count in sorted(by_fault.items(), key=lambda item: (item[0] == "sound", -item[1], item[0]))
        if count and code not in INNOCENT
    ]
    return aligned(rows, right=(0,))


def note_lines(result: WatchResult, *, show: int) -> list[str]:
    """Print the innocents: counts first, then the most weighty few in their own words."""
    lines = []
    for code in CATALOGUE:
        notes = naming(result.findings, code) if code in INNOCENT else ()
        if not notes:
            continue
        lines.append(f"  {len(notes):,}  {CATALOGUE[code].title}")
        names = ", ".join(_port_name(finding) for finding in notes[:show])
        more = f" and {len(notes) - show:,} more" if len(notes) > show else ""
        lines += wrapped(f"{names}{more}", indent=5)
    return lines


def watch_lines(result: WatchResult, *, show: int) -> list[str]:
    """Print the whole result of a watch."""
    summary = result.summary
    lines = textwrap.wrap(summary_sentence(summary), WIDTH)
    asked = asking(result.findings)
    by_action = {"visit": "Worth a visit, the costliest to leave first", "remote_check": "To check from the desk"}
    place = pictures = 0
    for action, title in by_action.items():
        some = [finding for finding in asked if finding.action == action]
        if not some or place >= show:
            continue
        lines += ["", title]
        for finding in some[: show - place]:
            lines += [""] if place and finding is not some[0] else []
            place += 1
            trace = result.traces.get((finding.meter_serial, finding.endpoint_serial, finding.port))
            unit = trace.dial_unit if trace is not None else summary.unit
            picture = picture_lines(trace) if trace is not None and pictures < DRUMS_SHOWN else []
            pictures += bool(picture)
            lines += finding_lines(place, finding, trace, unit, picture=picture)
    if len(asked) > place:
        lines += ["", f"  and {len(asked) - place:,} more: add --show {len(asked)}, or --out findings.csv for all."]
    if result.crossings:
        lines += ["", "Exchanged endpoints", *crossing_lines(result.crossings)]
    lines += ["", "Ports by cause", *count_lines(summary.by_fault)]
    notes = note_lines(result, show=5)
    if notes:
        lines += ["", "Notes, no work on the wiring", *notes]
    if result.missing:
        lines += ["", "Missing, and what that costs"]
        for table, cost in result.missing:
            lines += wrapped(f"{table}: {cost}.", indent=2)
    lines += bad_row_lines(result) + repair_lines(result)
    if result.said:
        lines += ["", "Said while reading the files"]
        for sentence in result.said:
            lines += wrapped(sentence, indent=2)
    return lines


def bad_row_lines(result: WatchResult) -> list[str]:
    """Print the rows left out: the count by file, and the first of each in full."""
    lines = ["", "Rows left out"] if result.bad_rows else []
    for name, count in result.bad_rows.items():
        lines += wrapped(f"{name}: {counted(count, 'bad row')} left out. The first ones:", indent=2)
        for problem in [item for item in result.problems if item.file == name][:PROBLEMS_SHOWN]:
            lines += wrapped(problem.says(), indent=4)
    return lines


def repair_lines(result: WatchResult) -> list[str]:
    """Print the repairs, those that were made first."""
    repairs = sorted(result.repairs, key=lambda repair: not repair.accepted)
    lines = ["", "Repairs, made only if accepted"] if repairs else []
    for repair in repairs[:REPAIRS_SHOWN]:
        lines += wrapped(repair.says(), indent=2)
    if len(repairs) > REPAIRS_SHOWN:
        more = counted(len(repairs) - REPAIRS_SHOWN, "more repair")
        lines += wrapped(f"And {more}; --json lists all. A kind, such as zeros, may be accepted as a whole.", indent=2)
    return lines


def score_lines(score: PlantedScore) -> list[str]:
    """Say how what was named compares with what was planted, misses and false alarms included."""
    lines = [
        "Compared with what was planted (kept apart, never read while judging)",
        f"  {score.named:,} of {counted(score.planted, 'planted fault')} named rightly; "
        f"{score.named_otherwise:,} asked for work under another name; {score.unnoticed:,} unnoticed.",
        f"  Of {counted(score.sound, 'sound port')}, {score.sound_visits:,} would be visited for nothing and "
        f"{score.sound_checks:,} checked from the desk.",
        f"  Of {counted(score.innocent, 'leaking, unused or changed customer')}, {score.innocent_visits:,} would be "
        "visited.",
    ]
    if score.missed:
        rows = "; ".join(f"{code} {count} of {planted}" for code, count, planted in score.missed)
        lines.append(f"  Not named: {rows}.")
    return [part for line in lines for part in textwrap.wrap(line, WIDTH, subsequent_indent="    ")]
