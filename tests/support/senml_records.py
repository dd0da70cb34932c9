"""SenML resolved by the rules of RFC 8428, section 4.6, with exact numbers; written apart from what is tested."""

from __future__ import annotations

import json
import re
from decimal import Decimal
from typing import Any

_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9\-:./_]*")
_BASE = {"bn", "bt", "bu", "bv", "bs", "bver"}
_OWN = {"n", "u", "v", "vs", "vb", "vd", "s", "t", "ut"}
_ABSOLUTE = 2**28


def resolved(text: str, *, now: Decimal = Decimal(0)) -> list[dict[str, Any]]:
    """Return the resolved records in order of time; refuse a pack that breaks a rule."""
    base: dict[str, Any] = {"bn": "", "bt": Decimal(0), "bu": None, "bv": None, "bs": None, "bver": 10}
    found = []
    pack = json.loads(text, parse_float=Decimal, parse_int=Decimal)
    assert isinstance(pack, list)
    assert pack
    for record in pack:
        assert set(record) <= _BASE | _OWN, record
        base |= {name: value for name, value in record.items() if name in _BASE}
        name = base["bn"] + record.get("n", "")
        assert _NAME.fullmatch(name), name
        assert sum(kind in record for kind in ("v", "vs", "vb", "vd")) <= 1
        assert "v" in record or "s" in record or base["bv"] is not None or {"vs", "vb", "vd"} & set(record)
        time = base["bt"] + record.get("t", Decimal(0))
        made = {"n": name, "t": time if time >= _ABSOLUTE else now + time, "u": record.get("u", base["bu"])}
        made |= {kind: record[kind] for kind in ("v", "vs", "vb", "vd", "s") if kind in record}
        if base["bv"] is not None:
            made["v"] = made.get("v", Decimal(0)) + base["bv"]
        found.append(made)
    return sorted(found, key=lambda record: record["t"])
