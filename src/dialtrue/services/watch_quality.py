"""How good a set of findings is, against what was planted: the figures by which a watch is judged.

The score knows nothing of how findings were made, so that any method that writes findings can be put beside another.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from pathlib import Path

import pyarrow.csv as pacsv

from dialtrue.domain.faults import INNOCENT
from dialtrue.domain.finding import Crossing, Finding

Key = tuple[str, str, int]
MATERIAL_SHARE = 0.05
"""Least share of the water by which a fault must mislead to be called material: the project's target."""
MATERIAL_L = 200.0
"""Least volume of a material fault, so that a port of no use is not held to a share of nothing. [L; our assumption]"""
NOT_IN_THE_FILES = ("second_dial", "known_volume")


@dataclass(frozen=True, slots=True)
class Planted:
    """What is true of one fitted port. ``shown_by`` names what in the files could show its fault at all."""

    key: Key
    fault: str
    volume_error_l: float
    true_volume_l: float
    shown_by: str

    @property
    def healthy(self) -> bool:
        """Sound, or with a cause that is no fault."""
        return self.fault == "sound" or self.fault in INNOCENT

    @property
    def material(self) -> bool:
        """A fault that has misled by enough to matter."""
        least = max(MATERIAL_SHARE * abs(self.true_volume_l), MATERIAL_L)
        return not self.healthy and abs(self.volume_error_l) >= least


@dataclass(slots=True)
class Quality:
    """Counts that add up over towns; the figures are made of them.

    ``named`` counts (planted code, named code); ``stated`` holds (probability, named rightly) of each finding that asks
    for an action; ``visits``, ``checks`` are those at healthy ports; ``port_days`` the healthy ports times the days
    watched. ``hidden`` counts material faults that nothing but a second look at the dial could show, ``hidden_asked``
    those of them that got a check with a rank. Crossings are rows of true rings; ``rings`` those of three and more.
    """

    towns: int = 0
    ports: int = 0
    healthy: int = 0
    port_days: float = 0.0
    visits: int = 0
    checks: int = 0
    material: int = 0
    flagged: int = 0
    rightly: int = 0
    shown: int = 0
    shown_flagged: int = 0
    shown_rightly: int = 0
    hidden: int = 0
    hidden_asked: int = 0
    unknowable: int = 0
    covered: int = 0
    intervals: int = 0
    fault_covered: int = 0
    fault_intervals: int = 0
    crossed: int = 0
    crossed_found: int = 0
    rings: int = 0
    rings_found: int = 0
    crossings_told: int = 0
    crossings_right: int = 0
    named: Counter[tuple[str, str]] = field(default_factory=Counter)
    stated: list[tuple[float, bool]] = field(default_factory=list)
    wasted: Counter[tuple[str, str]] = field(default_factory=Counter)

    def add(self, other: Quality) -> None:
        """Add another town's counts."""
        for name in self.__slots__:
            mine, theirs = getattr(self, name), getattr(other, name)
            if isinstance(mine, Counter):
                mine.update(theirs)
            elif isinstance(mine, list):
                mine.extend(theirs)
            else:
                setattr(self, name, mine + theirs)


def score_findings(
    planted: Sequence[Planted],
    findings: Iterable[Finding],
    *,
    days: float,
    true_crossings: Sequence[Crossing] = (),
    crossings: Sequence[Crossing] = (),
) -> Quality:
    """Score one town's findings.

    Parameters
    ----------
    planted : sequence of Planted
        Every fitted port of the town.
    findings : iterable of Finding
        A port without a finding counts as *sound, nothing asked for*.
    days : float
        How long the town was watched. [days, > 0]
    true_crossings, crossings : sequences of Crossing
        Rings as planted and as found.

    Returns
    -------
    Quality

    Raises
    ------
    Never raises.

    Source
    ------
    Definition. A row of a ring is found where meter, recorded endpoint and true endpoint agree.
    """
    found = {(finding.meter_serial, finding.endpoint_serial, finding.port): finding for finding in findings}
    out = Quality(towns=1, ports=len(planted))
    for port in planted:
        finding = found.get(port.key)
        fault, action = ("sound", "none") if finding is None else (finding.fault, finding.action)
        out.named[(port.fault, fault)] += 1
        if finding is not None and action != "none":
            out.stated.append((finding.probability, fault == port.fault))
        if port.healthy:
            out.healthy += 1
            out.port_days += days
            out.visits += action == "visit"
            out.checks += action == "remote_check"
            if action == "visit":
                out.wasted[(port.fault, fault)] += 1
        if port.material:
            _add_material(out, port, fault, action, finding)
        if finding is not None:
            _add_interval(out, port, finding)
    _add_crossings(out, true_crossings, crossings)
    return out


def _add_material(out: Quality, port: Planted, fault: str, action: str, finding: Finding | None) -> None:
    flagged, rightly = action != "none", fault == port.fault
    out.material += 1
    out.flagged += flagged
    out.rightly += rightly
    if port.shown_by not in NOT_IN_THE_FILES:
        out.shown += 1
        out.shown_flagged += flagged
        out.shown_rightly += rightly
    elif port.shown_by == "second_dial":
        out.hidden += 1
        out.hidden_asked += action == "remote_check" and finding is not None and finding.priority > 0
    else:
        out.unknowable += 1


def _add_interval(out: Quality, port: Planted, finding: Finding) -> None:
    low, high = finding.volume_error_low_l, finding.volume_error_high_l
    if low is None or high is None:
        return
    inside = low - 0.5 <= port.volume_error_l <= high + 0.5  # half a litre: the tables are rounded
    out.intervals += 1
    out.covered += inside
    if not port.healthy:
        out.fault_intervals += 1
        out.fault_covered += inside


def _add_crossings(out: Quality, truth: Sequence[Crossing], told: Sequence[Crossing]) -> None:
    size = Counter(row.ring for row in truth)
    true_rows = {(row.meter_serial, row.endpoint_serial, row.true_endpoint_serial) for row in truth}
    told_rows = {(row.meter_serial, row.endpoint_serial, row.true_endpoint_serial) for row in told}
    for row in truth:
        hit = (row.meter_serial, row.endpoint_serial, row.true_endpoint_serial) in told_rows
        out.crossed += 1
        out.crossed_found += hit
        if size[row.ring] > 2:
            out.rings += 1
            out.rings_found += hit
    # A swapped compound may stand among the crossings too; it is judged by its own code.
    outside = {row for row in told_rows if row[1] != row[2]}
    out.crossings_told += len(outside)
    out.crossings_right += len(outside & true_rows)


def macro_f1(named: Counter[tuple[str, str]]) -> float:
    """Return the mean over all planted codes of the harmonic mean of precision and recall; NaN without ports."""
    codes = sorted({truth for truth, _ in named})
    scores = []
    for code in codes:
        right = named[(code, code)]
        planted = sum(count for (truth, _), count in named.items() if truth == code)
        said = sum(count for (_, name), count in named.items() if name == code)
        scores.append(2 * right / (planted + said) if planted + said else 0.0)
    return sum(scores) / len(scores) if scores else float("nan")


def calibration_error(stated: Sequence[tuple[float, bool]], *, bins: int = 10) -> float:
    """Return the mean distance between stated and true share over bins of equal width; NaN without findings."""
    if not stated:
        return float("nan")
    total = 0.0
    for place in range(bins):
        inside = [pair for pair in stated if min(int(pair[0] * bins), bins - 1) == place]
        total += abs(sum(chance - right for chance, right in inside))
    return total / len(stated)


def read_planted_ports(labels_folder: Path) -> list[Planted]:
    """Read what is true of every port of a simulated town, from the folder that ``simulate_town`` wrote it to.

    Raises
    ------
    OSError
        There is no ``labels.csv`` in the folder.

    Source
    ------
    The columns of ``dialtrue.engine.simulation.records.LABEL_COLUMNS``.
    """
    rows = _rows(labels_folder / "labels.csv")
    return [
        Planted(
            (row["meter_serial"], row["endpoint_serial"], int(row["port"])),
            row["fault"],
            float(row["volume_error_l"] or 0),
            float(row["true_volume_l"] or 0),
            row.get("shown_by", ""),
        )
        for row in rows
    ]


def read_true_crossings(labels_folder: Path) -> list[Crossing]:
    """Read the rings of a simulated town. Raises OSError where there is no ``crossings.csv``."""
    return [
        Crossing(
            int(row["ring"]), row["meter_serial"], row["endpoint_serial"], row["true_endpoint_serial"],
            int(row.get("true_port") or 0), row.get("kind", ""), 1.0,
        )
        for row in _rows(labels_folder / "crossings.csv")
    ]  # fmt: skip


def _rows(path: Path) -> list[dict[str, str]]:
    """Read every cell as text, so that serials keep their zeros."""
    with path.open(encoding="utf-8") as stream:
        header = stream.readline().strip().split(",")
    table = pacsv.read_csv(
        path,
        convert_options=pacsv.ConvertOptions(column_types=dict.fromkeys(header, "string"), strings_can_be_null=False),
    )
    return [{name: str(value) for name, value in row.items()} for row in table.to_pylist()]
