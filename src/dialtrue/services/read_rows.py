"""Checked reads and estimates as rows to write, and what each port came to."""

from __future__ import annotations

import numpy as np
import pyarrow as pa
from numpy.typing import NDArray

from dialtrue.domain.read_checks.account import PortTally
from dialtrue.domain.read_checks.rules import (
    FAILED_BITS,
    FILL_QUALITY,
    FILL_RULES,
    QUESTIONABLE,
    RAW,
    READ_RULES,
    VALIDATED,
    rule_text,
)
from dialtrue.engine.fleet import Ints
from dialtrue.engine.gap_fill import Estimates, Gaps
from dialtrue.engine.read_checks import NO_END, CheckedReads
from dialtrue.engine.read_merge import places_of
from dialtrue.files.validated_out import SCHEMA
from dialtrue.services.port_records import HeardPorts, KnownPorts


def quality_of(reads: CheckedReads, run: Ints, known: KnownPorts, cadence_us: Ints) -> NDArray[np.int8]:
    """Return the quality code of each read.

    Raises
    ------
    Never raises.

    Source
    ------
    ``ESPI-QUALITY``; a read without a fitting or a cadence to check it by is raw.
    """
    told = (known.fitting >= 0) & (cadence_us > 0)
    quality = np.where(told[run] & (reads.before != NO_END), VALIDATED, RAW).astype(np.int8)
    quality[(reads.said & FAILED_BITS) > 0] = QUESTIONABLE
    return quality


def validated_rows(
    reads: CheckedReads, gaps: Gaps, made: Estimates, runs: np.ndarray, heard: HeardPorts, known: KnownPorts,
    cadence_us: Ints,
) -> pa.Table:  # fmt: skip
    """Lay reads and estimates into one table in the form of ``files.validated_out.SCHEMA``.

    Raises
    ------
    Never raises.
    """
    n, e = len(reads.at_us), len(made.at_us)
    run = np.repeat(np.arange(len(runs)), np.diff(reads.first))
    run_made = gaps.run[made.gap]
    of_reads, of_made = places_of(reads.first, reads.at_us, run_made, made.at_us)

    def laid(of_read: np.ndarray, of_estimate: np.ndarray) -> np.ndarray:
        column = np.empty(n + e, of_read.dtype)
        column[of_reads], column[of_made] = of_read, of_estimate
        return column

    estimated = np.zeros(n + e, np.bool_)
    estimated[of_made] = True
    words = np.flatnonzero(np.bincount(reads.said, minlength=1))
    code_of = np.zeros(int(words[-1]) + 1 if len(words) else 1, np.int16)
    code_of[words] = np.arange(len(words))
    texts = [*(rule_text(int(word)) for word in words), *FILL_RULES]
    rule = laid(code_of[reads.said], (len(words) + gaps.rule[made.gap]).astype(np.int16))
    fill_quality = np.array(FILL_QUALITY, np.int8)
    owner = laid(run, run_made)
    serials = pa.DictionaryArray.from_arrays(
        pa.array(owner.astype(np.int32)), pa.array([name for name, _ in known.names], pa.string())
    )
    ports = np.array([port for _, port in known.names], np.int32)
    zeros, nothing = np.zeros(n, np.int64), np.zeros(e, np.int64)
    columns = [
        serials,
        pa.array(ports[owner]),
        pa.array(laid(reads.at_us, made.at_us)).cast(pa.timestamp("us", tz="UTC")),
        pa.array(laid(reads.index, nothing), mask=estimated),
        pa.array(laid(zeros, made.index), mask=~estimated),
        pa.array(laid(quality_of(reads, run, known, cadence_us), fill_quality[gaps.rule[made.gap]])),
        pa.DictionaryArray.from_arrays(pa.array(rule), pa.array(texts, pa.string())),
        pa.array(laid(zeros, made.low), mask=~estimated),
        pa.array(laid(zeros, made.high), mask=~estimated),
    ]
    return pa.Table.from_arrays(columns, schema=SCHEMA)


def tally_ports(reads: CheckedReads, gaps: Gaps, made: Ints, runs: np.ndarray, known: KnownPorts) -> list[PortTally]:
    """Return what each port came to that has a failed check or something missing.

    Raises
    ------
    Never raises.
    """
    many = len(runs)
    bad = (reads.said & FAILED_BITS) > 0
    run = np.repeat(np.arange(many), np.diff(reads.first))
    failed = np.bincount(run[bad], minlength=many)
    missing = np.bincount(gaps.run[made], minlength=many)
    unfilled = gaps.rule < 0
    left = np.bincount(gaps.run[unfilled], weights=gaps.missing[unfilled], minlength=many).astype(np.int64)
    tallies = []
    for k in np.flatnonzero(failed + missing + left).tolist():
        said = reads.said[reads.first[k] : reads.first[k + 1]]
        counts = [(rule.name, int((said & rule.bit > 0).sum())) for rule in READ_RULES if rule.failed and failed[k]]
        rules = tuple((name, count) for name, count in counts if count)
        tallies.append(
            PortTally(
                *known.names[k], known.meters[k], int(reads.first[k + 1] - reads.first[k]), int(missing[k]),
                int(left[k]), int(failed[k]), rules,
            )
        )  # fmt: skip
    return tallies
