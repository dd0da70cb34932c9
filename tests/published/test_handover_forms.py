"""Each form of a handover, read by somebody else: what goes out is what came in.

Sources: FRICTIONLESS, NAESB-REQ-21, RFC-8428, PARQUET.
"""

from __future__ import annotations

import json
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import duckdb
import pytest
import xmlschema

from dialtrue.domain.handover.account import HandoverOptions
from dialtrue.domain.quantity import convert
from dialtrue.services.handover import hand_over
from tests.support.handovers import AT, hourly, make_programme, rows_of
from tests.support.senml_records import resolved

ATOM = "{http://www.w3.org/2005/Atom}"
ESPI = "{http://naesb.org/espi}"
UOM = {134: "L", 42: "m3", 119: "ft3", 128: "gal", 130: "gal_imp"}
SCHEMA = Path(__file__).parent / "data" / "espi_water.xsd"

PORTS: dict[str, dict[str, Any]] = {
    "plain": {},
    "fine": {
        "site": {"dial_unit": "ft3", "dial_resolution": "", "pulse_unit": "ft3", "pulse_weight": "1"},
        "fitting": {"dial_at_fit": "000100", "start_index": "00007480", "index_unit": "gal", "index_resolution": "0.1"},
        "reads": [*hourly(3, first=7480), ("2026-03-05T00:00:00Z", 7600, "estimated")],
    },
    "comma, quoted": {"reads": hourly(30, first=99_999_900)},
    "crooked": {"fitting": {"endpoint_serial": 'E <&" ä'}, "finding": {"endpoint_serial": 'E <&" ä'}},
    "ccf": {
        "site": {"dial_unit": "ccf", "dial_resolution": "", "pulse_unit": "ccf", "pulse_weight": "1"},
        "fitting": {"dial_at_fit": "000042", "start_index": "00000042", "index_unit": "ccf", "index_resolution": "1"},
        "reads": hourly(5, first=42, step=1),
    },
}


@pytest.fixture(scope="module")
def handed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    root = tmp_path_factory.mktemp("handover")
    findings = make_programme(root / "p", PORTS)
    (root / "p" / "programme.toml").write_text('timezone = "America/Chicago"\n[handover]\nports_per_file = 2\n')
    result = hand_over(root / "p", root / "out", at=AT, options=HandoverOptions(), findings=findings)
    assert (result.handed, result.left_out) == (5, 0), result.examples
    return root / "out"


def volumes(folder: Path) -> dict[tuple[str, str], Fraction]:
    """Return the volume of each read in cubic metres, from the CSV files alone."""
    return {
        (row["endpoint_serial"], row["at"]): convert(Fraction(row["volume"]), row["unit"], "m3")
        for row in rows_of(folder / "reads.csv")
    }


def test_csv_says_what_the_index_stands_for(handed: Path) -> None:
    installs = {row["endpoint_serial"]: row for row in rows_of(handed / "installs.csv")}
    reads = rows_of(handed / "reads.csv")
    assert len(reads) == 48 + 4 + 30 + 48 + 5
    for row in reads:
        install = installs[row["endpoint_serial"]]
        stands_for = int(row["index"]) * Fraction(install["index_resolution"])
        assert convert(Fraction(row["volume"]), row["unit"], install["index_unit"]) == stands_for
    assert [row["volume"] for row in reads if row["endpoint_serial"] == "E-plain"][:2] == ["123.450", "123.457"]
    assert {row["unit"] for row in reads if row["endpoint_serial"] == "E-fine"} == {"gal"}  # no decimal of ft3
    keys = [(row["endpoint_serial"], row["port"], row["at"]) for row in reads]
    assert keys == sorted(set(keys))


def test_an_independent_reader_finds_the_data_package_valid(handed: Path) -> None:
    command = [sys.executable, "-m", "frictionless", "validate", "datapackage.json", "--json"]
    done = subprocess.run(command, cwd=handed, capture_output=True, text=True, check=False, timeout=120)
    report = json.loads(done.stdout)
    assert report["valid"], done.stdout
    assert {task["name"]: task["stats"].get("rows", 0) for task in report["tasks"]} == {
        "installs": 5, "reads": 135, "left_out": 0,
    }  # fmt: skip


def test_the_same_reader_finds_a_spoilt_value(handed: Path, tmp_path: Path) -> None:
    for name in ("datapackage.json", "installs.csv", "left_out.csv"):
        (tmp_path / name).write_bytes((handed / name).read_bytes())
    text = (handed / "reads.csv").read_text(encoding="utf-8")
    package = json.loads((handed / "datapackage.json").read_text())
    for resource in package["resources"]:
        resource.pop("hash"), resource.pop("bytes")
    (tmp_path / "datapackage.json").write_text(json.dumps(package))
    (tmp_path / "reads.csv").write_text(text.replace(",raw\n", ",vouched for\n", 1), encoding="utf-8")
    command = [sys.executable, "-m", "frictionless", "validate", "datapackage.json", "--json"]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False, timeout=120)
    assert not json.loads(done.stdout)["valid"]


def test_espi_has_the_structure_and_gives_the_same_volumes(handed: Path) -> None:
    schema = xmlschema.XMLSchema(SCHEMA)
    found: dict[tuple[str, str], Fraction] = {}
    wanted = volumes(handed)
    names = {row["meter_serial"]: row["endpoint_serial"] for row in rows_of(handed / "installs.csv")}
    parts = sorted((handed / "espi").iterdir())
    assert len(parts) == 3
    for part in parts:
        feed = ElementTree.parse(part).getroot()
        assert feed.tag == f"{ATOM}feed"
        links: dict[str, ElementTree.Element] = {}
        for entry in feed.iter(f"{ATOM}entry"):
            assert all(len(entry.findall(f"{ATOM}{name}")) == 1 for name in ("id", "title", "updated", "content"))
            (content,) = list(entry.find(f"{ATOM}content") or [])
            schema.validate(content)
            (here,) = [each.get("href") for each in entry.findall(f"{ATOM}link") if each.get("rel") == "self"]
            assert here is not None
            assert here not in links
            links[here] = entry
        ids = [entry.findtext(f"{ATOM}id") for entry in links.values()]
        assert len(set(ids)) == len(ids)
        for here, entry in links.items():
            block = entry.find(f"{ATOM}content/{ESPI}IntervalBlock")
            if block is None:
                continue
            reading = here.rsplit("/IntervalBlock/", 1)[0]
            (kind,) = [
                each.get("href", "") for each in links[reading].findall(f"{ATOM}link")
                if each.get("rel") == "related" and "ReadingType" in each.get("href", "")
            ]  # fmt: skip
            told = links[kind].find(f"{ATOM}content/{ESPI}ReadingType")
            assert told is not None
            unit = UOM[int(told.findtext(f"{ESPI}uom") or 0)]
            power = Fraction(10) ** int(told.findtext(f"{ESPI}powerOfTenMultiplier") or 0)
            title = links[here.split("/MeterReading/")[0]].findtext(f"{ATOM}title") or ""
            for each in block.iter(f"{ESPI}IntervalReading"):
                at = _iso(int(each.findtext(f"{ESPI}timePeriod/{ESPI}start") or 0))
                volume = int(each.findtext(f"{ESPI}value") or 0) * power
                found[names[title.rsplit(" ", 1)[0]], at] = convert(volume, unit, "m3")
    assert found == wanted


def test_espi_use_adds_up_to_the_step_of_the_index_across_its_coming_round(handed: Path, tmp_path: Path) -> None:
    root = handed.parent
    options = HandoverOptions(forms=("espi",), espi_use=True)
    hand_over(root / "p", tmp_path / "use", at=AT, options=options, findings=root / "findings.csv")
    schema = xmlschema.XMLSchema(SCHEMA)
    total: dict[str, Fraction] = {}
    span: dict[str, int] = {}
    for part in sorted((tmp_path / "use" / "espi").iterdir()):
        name, step = "", Fraction(0)
        for content in ElementTree.parse(part).getroot().iterfind(f"{ATOM}entry/{ATOM}content"):
            (held,) = list(content)
            schema.validate(held)
            if held.tag == f"{ESPI}ReadingType":
                assert held.findtext(f"{ESPI}accumulationBehaviour") == "4"
                power = Fraction(10) ** int(held.findtext(f"{ESPI}powerOfTenMultiplier") or 0)
                step = convert(power, UOM[int(held.findtext(f"{ESPI}uom") or 0)], "m3")
                name = f"{part.name} {len(total)}"
            for each in held.iter(f"{ESPI}IntervalReading"):
                total[name] = total.get(name, Fraction(0)) + int(each.findtext(f"{ESPI}value") or 0) * step
                span[name] = span.get(name, 0) + int(each.findtext(f"{ESPI}timePeriod/{ESPI}duration") or 0)
    litre, gal, ccf = Fraction(1, 1000), convert(Fraction(1, 10), "gal", "m3"), convert(1, "ccf", "m3")
    assert sorted(total.values()) == sorted([47 * 7 * litre, 120 * gal, 29 * 7 * litre, 47 * 7 * litre, 4 * ccf])
    assert sorted(span.values()) == sorted([47 * 3600, 72 * 3600, 29 * 3600, 47 * 3600, 4 * 3600])


def test_espi_says_the_quality_of_what_the_sender_estimated(handed: Path) -> None:
    text = "".join(path.read_text(encoding="utf-8") for path in (handed / "espi").iterdir())
    assert text.count("<quality>16</quality>") == 1
    assert text.count("<quality>") == 1
    assert "360E2000" in text
    assert "B40E2000" in text
    assert "<tzOffset>-21600</tzOffset>" in text


def test_senml_resolves_to_the_same_volumes_in_cubic_metres(handed: Path) -> None:
    wanted = volumes(handed)
    found: dict[tuple[str, str], Fraction] = {}
    for path in sorted((handed / "senml").iterdir()):
        for record in resolved(path.read_text(encoding="utf-8")):
            assert record["u"] == "m3"
            found[record["n"].split(":")[2], _iso(int(record["t"]))] = Fraction(record["v"])
    plain = {name: name for name, _ in wanted if name.replace("-", "").isalnum() and name.isascii()}
    plain |= {"E-comma, quoted": "E-comma_2c_20quoted", 'E <&" ä': "E_20_3c_26_22_20_e4"}
    assert found == {(plain[name], at): volume for (name, at), volume in wanted.items()}


def test_the_resolver_of_these_tests_agrees_with_the_rfcs_own_example() -> None:
    # RFC 8428, section 5.1.3 (a pack) and 5.1.4 (the same, resolved): the first and the last second.
    pack = """[{"bn":"urn:dev:ow:10e2073a0108006:","bt":1.276020076001e+09,"bu":"A","bver":5,"n":"voltage","u":"V",
        "v":120.1},{"n":"current","t":-5,"v":1.2},{"n":"current","t":-4,"v":1.3},{"n":"current","v":1.7}]"""
    records = resolved(pack)
    assert [record["n"].rsplit(":", 1)[1] for record in records] == ["current", "current", "voltage", "current"]
    assert (records[0]["t"], records[0]["u"], records[0]["v"]) == (Decimal("1276020071.001"), "A", Decimal("1.2"))
    assert (records[2]["t"], records[2]["u"], records[2]["v"]) == (Decimal("1276020076.001"), "V", Decimal("120.1"))


def test_parquet_is_read_by_a_database_with_exact_decimals_and_order(handed: Path) -> None:
    wanted = volumes(handed)
    with duckdb.connect() as db:
        db.execute("set timezone='UTC'")
        path = str(handed / "reads.parquet")
        query = (
            "select endpoint_serial, strftime(reads.at, '%Y-%m-%dT%H:%M:%SZ'), volume, unit from read_parquet(?) reads"
        )
        rows = db.execute(query, [path]).fetchall()
        kinds = dict(db.execute("select name, type from parquet_schema(?)", [path]).fetchall())
        notes = {bytes(key): bytes(value) for key, value in db.execute(
            "select key, value from parquet_kv_metadata(?)", [path]).fetchall()}  # fmt: skip
        packed = db.execute("select distinct compression from parquet_metadata(?)", [path]).fetchall()
        installs = db.execute("select count(*), count(distinct account) from read_parquet(?)",
                              [str(handed / "installs.parquet")]).fetchone()  # fmt: skip
    assert {(name, at): convert(Fraction(volume), unit, "m3") for name, at, volume, unit in rows} == wanted
    assert [row[:2] for row in rows] == sorted(row[:2] for row in rows)
    assert kinds["volume"] == "FIXED_LEN_BYTE_ARRAY"
    assert packed == [("ZSTD",)]
    assert notes[b"primary_key"] == b"endpoint_serial,port,at"
    assert b"UTC" in notes[b"units"]
    assert installs == (5, 5)


def _iso(seconds: int) -> str:
    import datetime as dt

    return f"{dt.datetime.fromtimestamp(seconds, dt.UTC):%Y-%m-%dT%H:%M:%SZ}"
