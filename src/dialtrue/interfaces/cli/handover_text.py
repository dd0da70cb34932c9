"""What a handover prints: how many ports went, why the rest did not, which files were written."""

from __future__ import annotations

import dataclasses
import textwrap
from pathlib import Path
from typing import Any

from dialtrue.domain.handover.account import HandoverResult
from dialtrue.domain.words import counted
from dialtrue.interfaces.cli.output import WIDTH, aligned, wrapped

SHOWN = 5
RULES = {
    "shared_port": "another meter is on record on the same port",
    "record_incomplete": "a cell that billing needs is blank",
    "start_differs": "the start index is not the dial's",
    "no_exact_volume": "volumes with too many decimal places",
    "no_finding": "no finding speaks of it",
    "not_sound": "the watch names a fault",
    "asks_for_action": "the watch asks for a look",
    "unsure": "not sure enough that it counts true",
    "no_reads": "no read",
}


def handover_lines(result: HandoverResult) -> list[str]:
    """Print the summary, the reasons, the first ports that were left out, and the files."""
    doubtful = f", {result.doubtful:,} of them doubtful," if result.doubtful else ""
    head = (
        f"{result.handed:,} of {counted(result.ports, 'fitted port')}{doubtful} handed over with "
        f"{counted(result.reads, 'read')}; {result.left_out:,} left out."
    )
    lines = textwrap.wrap(head, WIDTH)
    if result.by_rule:
        lines += ["", "Left out because (a port may have several reasons)"]
        lines += aligned([(f"{count:,}", code, RULES[code]) for code, count in result.by_rule.items()], right=(0,))
    if result.examples:
        lines += ["", "The first of them; left_out.csv has all"]
        for row in result.examples[:SHOWN]:
            name = f"{row['meter_serial']}, endpoint {row['endpoint_serial']} port {row['port']}"
            lines += wrapped(f"{name}: {row['reason']}. {row['remedy']}", indent=2)
    if result.reads_left_out:
        lines += ["", "Reads not handed over"]
        lines += aligned([(f"{count:,}", what) for what, count in result.reads_left_out.items()], right=(0,))
    lines += ["", "Files"]
    lines += _file_lines(result.files)
    if result.said:
        lines += ["", "Said on the way"]
        for sentence in result.said:
            lines += wrapped(sentence, indent=2)
    return [*lines, "", "Whether a bill may rest on these reads is decided by your tariff and local law."]


def _file_lines(files: list[dict[str, Any]]) -> list[str]:
    """Print files with rows and bytes, those of one folder together."""
    rows: dict[str, tuple[int, int | None, int]] = {}
    for each in files:
        path = str(each["path"])
        name = f"{path.split('/')[0]}/" if "/" in path else path
        count, total, size = rows.get(name, (0, None, 0))
        held = each["rows"]
        rows[name] = (count + 1, total if held is None else (total or 0) + int(held), size + int(each["bytes"]))
    table = [
        (name, "" if count == 1 else counted(count, "file"), "" if total is None else counted(total, "row"),
         f"{size:,} bytes")
        for name, (count, total, size) in rows.items()
    ]  # fmt: skip
    return aligned(table, right=(1, 2, 3))


def handover_document(result: HandoverResult) -> dict[str, Any]:
    """Return the whole account as a document."""
    return dataclasses.asdict(result)


def check_lines(folder: Path, document: dict[str, Any]) -> list[str]:
    """Say that a folder is what its manifest says, and what that is."""
    files, counts = document["files"], document.get("counts", {})
    size = sum(int(each["bytes"]) for each in files)
    return [
        f"{folder}: all {counted(len(files), 'file')} are as the manifest says ({size:,} bytes).",
        f"  {document.get('programme', '')}, made {document.get('made_at', '')} by {document.get('made_by', '')}: "
        f"{counts.get('handed_over', 0):,} ports, {counts.get('reads', 0):,} reads, "
        f"{counts.get('left_out', 0):,} ports left out.",
    ]
