"""The stable JSON form of a watch: keys as in the contract's tables, volumes in litres, times in UTC."""

from __future__ import annotations

import dataclasses
import datetime as dt
import math
from collections.abc import Sequence
from typing import Any

from dialtrue.domain.explanation import Explanation
from dialtrue.domain.watch_result import WatchResult


def plain(value: Any) -> Any:
    """Turn a domain value into what JSON can carry; times become ISO 8601 with ``Z``."""
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return {field.name: plain(getattr(value, field.name)) for field in dataclasses.fields(value)}
    if isinstance(value, float) and not math.isfinite(value):
        return None  # JSON has no word for NaN; null is "not known", as a blank is in the tables
    if isinstance(value, dict):
        return {str(key): plain(inner) for key, inner in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str | bytes):
        return [plain(inner) for inner in value]
    return value


def watch_document(result: WatchResult) -> dict[str, Any]:
    """Return the document that ``dialtrue watch --json`` prints.

    ``form`` names its version: a key is never renamed within it, new keys may come.
    """
    return {
        "form": "dialtrue.watch/1",
        "summary": plain(result.summary),
        "findings": [plain(finding) for finding in result.findings],
        "crossings": plain(result.crossings),
        "missing": [{"table": table, "cost": cost} for table, cost in result.missing],
        "said": list(result.said),
        "bad_rows": {"counts": plain(result.bad_rows), "first": plain(result.problems)},
        "repairs": plain(result.repairs),
    }


def explain_document(explained: Sequence[Explanation]) -> dict[str, Any]:
    """Return the document that ``dialtrue explain --json`` prints, versioned as that of ``watch`` is."""
    return {"form": "dialtrue.explain/1", "ports": plain(list(explained))}
