"""Compare what was named with what was planted: the honest end of a demo."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

import pyarrow.csv as pacsv

from dialtrue.domain.faults import INNOCENT
from dialtrue.domain.finding import Finding

Key = tuple[str, str, int]


@dataclass(frozen=True, slots=True)
class PlantedScore:
    """Counts of ports. ``missed`` holds how often each planted fault was not named, most often first.

    Every planted fault is in exactly one of ``named``, ``named_otherwise`` (work was asked for under another name) and
    ``unnoticed`` (nothing was asked for). ``sound`` counts sound ports, ``innocent`` those with an innocent cause.
    """

    planted: int
    named: int
    named_otherwise: int
    unnoticed: int
    sound: int
    sound_visits: int
    sound_checks: int
    innocent: int
    innocent_visits: int
    missed: tuple[tuple[str, int, int], ...]


def score_planted(truth: Mapping[Key, str], findings: Iterable[Finding]) -> PlantedScore:
    """Compare findings with the planted cause of each port.

    Parameters
    ----------
    truth : mapping
        From meter serial, endpoint serial and port to the planted code.
    findings : iterable of Finding
        What the watch named; a port without a finding counts as *sound, nothing asked for*.

    Returns
    -------
    PlantedScore
        ``missed`` has a row (code, not named, planted) for each code that was missed at least once.

    Raises
    ------
    Never raises.

    Source
    ------
    Definition.
    """
    found = {(finding.meter_serial, finding.endpoint_serial, finding.port): finding for finding in findings}
    tally = dict.fromkeys(("named", "otherwise", "unnoticed", "sound", "visits", "checks", "innocent", "sent"), 0)
    planted: dict[str, int] = {}
    missed: dict[str, int] = {}
    for key, code in truth.items():
        finding = found.get(key)
        action = finding.action if finding is not None else "none"
        if code == "sound":
            tally["sound"] += 1
            tally["visits"] += action == "visit"
            tally["checks"] += action == "remote_check"
        elif code in INNOCENT:
            tally["innocent"] += 1
            tally["sent"] += action == "visit"
        else:
            planted[code] = planted.get(code, 0) + 1
            rightly = finding is not None and finding.fault == code
            missed[code] = missed.get(code, 0) + (not rightly)
            tally["named" if rightly else "otherwise" if action != "none" else "unnoticed"] += 1
    rows = sorted(((code, count, planted[code]) for code, count in missed.items() if count), key=lambda row: -row[1])
    return PlantedScore(
        planted=sum(planted.values()),
        named=tally["named"],
        named_otherwise=tally["otherwise"],
        unnoticed=tally["unnoticed"],
        sound=tally["sound"],
        sound_visits=tally["visits"],
        sound_checks=tally["checks"],
        innocent=tally["innocent"],
        innocent_visits=tally["sent"],
        missed=tuple(rows),
    )


def read_planted(labels_folder: Path) -> dict[Key, str]:
    """Read what a simulated town holds, from the folder that ``simulate_town`` wrote it to.

    Raises
    ------
    OSError
        There is no ``labels.csv`` in the folder.

    Source
    ------
    The columns of ``dialtrue.engine.simulation.records.LABEL_COLUMNS``.
    """
    columns = ("meter_serial", "endpoint_serial", "port", "fault")
    table = pacsv.read_csv(
        labels_folder / "labels.csv",
        convert_options=pacsv.ConvertOptions(
            include_columns=list(columns), column_types=dict.fromkeys(columns, "string"), strings_can_be_null=False
        ),
    )
    rows = zip(*(table.column(name).to_pylist() for name in columns), strict=True)
    return {(meter, endpoint, int(port)): fault for meter, endpoint, port, fault in rows}
