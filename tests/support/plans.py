"""Small surveys for the tests of the planning."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

from dialtrue.domain.planning.settings import PlanSettings
from dialtrue.services.plan import PlanAnswer, plan_folder

AT = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
REGISTER = {
    "site": "S1", "meter_serial": "00123", "register_role": "single", "mount": "pit", "meter_type": "nutating_disc",
    "meter_size": "5/8in", "dial_digits": "6", "fixed_zeros": "0", "dial_unit": "gal", "dial_resolution": "",
    "pulse_weight": "10", "pulse_unit": "gal", "output": "reed-contact", "input": "", "cable": "awg22-pair",
    "cable_length_m": "2.5", "use_l_per_day": "500", "endpoint": "", "skills": "",
}  # fmt: skip
"""A register that nothing is wrong with."""


def register(site: str = "S1", serial: str = "00123", **cells: Any) -> dict[str, str]:
    """Return a row of the sites table that differs from ``REGISTER`` in some cells."""
    return REGISTER | {"site": site, "meter_serial": serial} | {name: str(value) for name, value in cells.items()}


def survey(folder: Path, *rows: dict[str, str], programme: str = "", **files: str) -> Path:
    """Write a sites table, and perhaps ``programme.toml`` and data sheets ``hardware/NAME.toml``."""
    lines = [",".join(REGISTER), *(",".join(row[name] for name in REGISTER) for row in rows)]
    (folder / "sites.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    if programme:
        (folder / "programme.toml").write_text(programme, encoding="utf-8")
    for name, text in files.items():
        (folder / "hardware").mkdir(exist_ok=True)
        (folder / "hardware" / f"{name}.toml").write_text(text, encoding="utf-8")
    return folder


def planned(folder: Path, *rows: dict[str, str], settings: PlanSettings | None = None, **more: str) -> PlanAnswer:
    """Write a survey and plan it."""
    return plan_folder(survey(folder, *rows, **more), at=AT, settings=settings)


def rows_of(answer: PlanAnswer) -> list[dict[str, Any]]:
    """Return the plan's rows."""
    return answer.plan.to_pylist()  # type: ignore[no-any-return]
