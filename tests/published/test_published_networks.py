"""Hourly demands of a published water network as flows that we did not invent, run through the pulse chain.

``WNTR-NETWORKS``: the demands come out of the reference library (``wntr``), node by node; meters, dials, weights and
faults are ours. The network's pattern repeats, never rests at night and is common to all nodes: no household at all.
"""

from __future__ import annotations

import datetime as dt
import random
import warnings
from fractions import Fraction
from functools import cache
from itertools import accumulate

import pytest

from dialtrue.domain.faults import INNOCENT
from dialtrue.domain.finding import Finding
from dialtrue.domain.quantity import litres_per
from dialtrue.services.watch import watch_folder
from tests.support.programmes import HOUR, Port, dial_text, write_programme

START = dt.datetime(2025, 3, 3, 6, tzinfo=dt.UTC)
DAYS = 60
WEIGHT_GAL, STEP_GAL = 100, 10
GAL_L = litres_per("gal")
FAULTS = {
    "dead": "dead_input", "tenth": "weight_decade", "double": "double_count", "unit": "unit_slip",
    "start": "start_slip", "loses": "lost_counts", "left": "crossed", "right": "crossed",
}  # fmt: skip


@cache
def hourly_litres() -> dict[str, list[int]]:
    """Return the litres of each hour at the nodes that a four-inch meter could serve."""
    pytest.importorskip("six", reason="the reference library for networks needs it")
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        wntr = pytest.importorskip("wntr", reason="the reference library for networks is not installed")
        network = wntr.network.WaterNetworkModel("Net3")
        demand = wntr.metrics.hydraulic.expected_demand(network, 0, DAYS * 86_400 - 3600, 3600)
    litres = (demand * 3_600_000).round().astype(int)
    fit = [name for name in litres.columns if litres[name].mean() > 400 and litres[name].max() < 100_000]
    return {str(name): litres[name].tolist() for name in fit}


def build(name: str, litres: list[int], other: list[int]) -> Port:
    """Return one port on a node's demand, with the fault that its name says."""
    total, theirs, gone = 0, 0, [0]
    for hour in litres:
        total += hour
        gone.append(total)
    others = [0]
    for hour in other:
        theirs += hour
        others.append(theirs)
    pulses = [int(Fraction(volume) / GAL_L // WEIGHT_GAL) for volume in gone]
    base = 421_370 + 1_009 * len(name)
    counted = [WEIGHT_GAL * count for count in pulses]
    start = base
    half = len(counted) * 2 // 5
    if name == "dead":
        counted = counted[:half] + [counted[half]] * (len(counted) - half)
    elif name == "tenth":
        counted = [volume // 10 for volume in counted]
    elif name == "double":
        counted = [2 * volume for volume in counted]
    elif name == "unit":
        counted = [int(volume * litres_per("ft3") / GAL_L) for volume in counted]
    elif name == "start":
        start = int(str(base)[0] + str(base)[2] + str(base)[1] + str(base)[3:])
    elif name == "loses":
        rng = random.Random(20250303)
        missed = [0, *accumulate(rng.random() < 0.2 for _ in range(pulses[-1]))]
        counted = [WEIGHT_GAL * (count - missed[count]) for count in pulses]
    elif name in ("left", "right"):
        counted = [WEIGHT_GAL * int(Fraction(volume) / GAL_L // WEIGHT_GAL) for volume in others]
    at = [START + hour * HOUR for hour in range(len(gone))]
    looks = [24 * 20 + 7, 24 * 38 + 9, 24 * 57 + 11]
    month_gal = round(Fraction(sum(litres), DAYS) * 30 / GAL_L)
    first = START.date() - dt.timedelta(days=241)
    return Port(
        name=name,
        fitted_at=at[0],
        dial_at_fit=dial_text(base, digits=8),
        start_index=str(start),
        read_at=at[1:],
        index=[start + volume // STEP_GAL for volume in counted[1:]],
        pulse_weight=str(WEIGHT_GAL),
        dial_digits=8,
        dial_resolution=str(STEP_GAL),
        index_digits=9,
        index_resolution=str(STEP_GAL),
        meter_size="4in",
        dial_reads=[
            (at[k], dial_text(int(base + Fraction(gone[k]) / GAL_L // STEP_GAL), digits=8)) for k in looks
        ],
        history=[
            (first + dt.timedelta(days=30 * k), first + dt.timedelta(days=30 * (k + 1)), str(month_gal * step // 100))
            for k, step in enumerate((97, 104, 99, 95, 106, 101, 98, 103))
        ],
    )  # fmt: skip


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Finding]:
    """The watch's findings on all nodes, by the name of the port."""
    nodes, folder = hourly_litres(), tmp_path_factory.mktemp("network")
    names = list(nodes)
    assert len(names) >= 25
    ports = []
    for name, node in zip(FAULTS, names, strict=False):
        other = names[list(FAULTS).index({"left": "right", "right": "left"}.get(name, name))]
        ports.append(build(name, nodes[node], nodes[other]))
    ports += [build(f"sound-{node}", nodes[node], nodes[node]) for node in names[len(FAULTS) :]]
    write_programme(folder, ports)
    findings = watch_folder(folder, at=START + dt.timedelta(days=DAYS)).findings
    return {finding.meter_serial.removeprefix("M-"): finding for finding in findings}


def test_demands_of_a_published_network_are_sound(found: dict[str, Finding]) -> None:
    sound = {name: finding for name, finding in found.items() if name.startswith("sound")}
    assert len(sound) >= 17
    assert {name for name, finding in sound.items() if finding.action == "visit"} == set()
    assert {finding.fault for finding in sound.values()} <= {"sound", *INNOCENT}


@pytest.mark.parametrize("name", FAULTS)
def test_faults_planted_in_a_published_network_are_named(found: dict[str, Finding], name: str) -> None:
    # "loses": another node draws four fifths as much, hour by hour, and must not be taken for its dial.
    assert found[name].fault == FAULTS[name]
