"""Volumes of bills in litres."""

from __future__ import annotations

import numpy as np
import pyarrow as pa

from dialtrue.services import fleet_records


def test_whole_volumes_and_written_fractions_come_to_the_same_litres() -> None:
    units = ["gal", "m3", "gal", None]
    whole = pa.table({"volume": ["123", "007", "0", "5"], "unit": units})
    mixed = pa.table({"volume": ["123.0", "7.000", "0.0", "5"], "unit": units})
    got, want = (np.nan_to_num(fleet_records._volumes_l(table)) for table in (whole, mixed))
    assert got.tolist() == want.tolist()
    assert got[1] == 7000.0
