"""What the data sheets say of the things in a kit: titles, units, spares; and the kit of a plan, with its files."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Final

import pyarrow as pa
import pyarrow.compute as pc

from dialtrue.domain.kit import CABLE_SPARE_SHARE, SpareRule
from dialtrue.files.endpoint_sheets import Hardware
from dialtrue.files.kit_xlsx import write_kit_workbook
from dialtrue.files.sheets import Catalogue
from dialtrue.files.tables_out import write_table
from dialtrue.services.kit import StockItem, kit_of
from dialtrue.services.plan import PlanAnswer

_METRIC_UNITS: Final = ("L", "m3")


def stock_items(
    catalogue: Catalogue, hardware: Hardware, *, metric: bool, cable_spare_share: Fraction = CABLE_SPARE_SHARE
) -> dict[tuple[str, str], StockItem]:
    """Return everything that a kit may hold, by kind and key.

    Parameters
    ----------
    catalogue, hardware : Catalogue, Hardware
        Data sheets of cables, endpoints and parts.
    metric : bool
        Titles with metric sizes.
    cable_spare_share : Fraction
        Cable on top of the runs; cable sheets do not state it.

    Returns
    -------
    dict

    Raises
    ------
    Never raises.

    Source
    ------
    The sheets; see ``domain.kit`` for what they do not say.
    """
    items: dict[tuple[str, str], StockItem] = {}
    for key, endpoint in hardware.endpoints.items():
        rule = SpareRule(share=endpoint.spare_share, minimum=endpoint.spare_minimum)
        title = (endpoint.title_metric if metric else "") or endpoint.title
        items["endpoint", key] = StockItem("endpoint", key, title, "each", rule)
    for key, cable in catalogue.cables.items():
        rule = SpareRule(share=cable_spare_share, whole=False)
        items["cable", key] = StockItem("cable", key, cable.title, "m", rule)
    for key, part in hardware.parts.items():
        rule = SpareRule(
            share=part.spare_share,
            minimum=part.spare_minimum,
            per_day=part.spare_per_day,
            pack=part.pack,
            whole=part.unit == "each",
        )
        title = (part.title_metric if metric else "") or part.title
        items[part.kind, key] = StockItem(part.kind, key, title, part.unit, rule)
    return items


def kit_for(answer: PlanAnswer, *, routes: pa.Table | None = None) -> pa.Table:
    """Return the kit of a plan, titled in the units that most dials have.

    Raises
    ------
    PlanPartsUnreadable
        Only for a plan that this tool did not write.

    Source
    ------
    ``services.kit.kit_of``.
    """
    units = answer.sites["dial_unit"].to_pylist()
    metric = 2 * sum(unit in _METRIC_UNITS for unit in units) > len(units)
    slack = answer.settings.cable_slack_share
    items = stock_items(answer.catalogue, answer.hardware, metric=metric, cable_spare_share=slack)
    return kit_of(answer.plan, items, routes=routes)


def write_kit(path: Path, kit: pa.Table, *, scope: str = "") -> list[str]:
    """Write a kit as a table or as a workbook, by the ending; ``scope`` keeps one scope alone in a table.

    Returns
    -------
    list of str
        What a workbook had no room for.

    Raises
    ------
    UnknownSuffix, OutputNotWritten, ExtraMissing
    """
    if path.name.lower().endswith(".xlsx"):
        return write_kit_workbook(path, kit)
    write_table(path, kit.filter(pc.equal(kit["scope"], scope)) if scope else kit)
    return []
