"""A handover on its way into its folder: reads spilled and sorted, ports decided, forms and manifest written."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from numpy.typing import NDArray

from dialtrue import __version__
from dialtrue.domain.handover.account import HandoverOptions, HandoverResult
from dialtrue.domain.handover.forms import INSTALLS, LEFT_OUT, READS_OUT
from dialtrue.domain.handover.port import ESTIMATED, ESTIMATES, QUESTIONABLE, RAW, HandedPort
from dialtrue.domain.handover.rules import HandoverSettings, Reason
from dialtrue.domain.words import counted
from dialtrue.files.handover.espi import EspiFeeds
from dialtrue.files.handover.local_time import local_time
from dialtrue.files.handover.manifest import MANIFEST, described, digest, write_manifest
from dialtrue.files.handover.part import PartWriter, PortReads
from dialtrue.files.handover.senml import SenmlPacks
from dialtrue.files.handover.sorted_reads import SortedReads, Thinned, last_of_day, without_twins
from dialtrue.files.handover.tables import ReadsTables, data_package, write_rows
from dialtrue.files.handover.validated_in import validated_blocks
from dialtrue.files.programme import Programme
from dialtrue.services.handover_ports import Candidate
from dialtrue.services.handover_rows import install_row, left_out_row
from dialtrue.services.handover_seats import Seats

Progress = Callable[[str, int, int], None]
Ints = NDArray[np.int64]


_OUTSIDE = "outside a fitting, or of a port that is left out"


class Writing:
    """One handover on its way into its folder."""

    def __init__(
        self, made: Path, programme: Programme, found: list[Candidate], options: HandoverOptions,
        settings: HandoverSettings, at: dt.datetime, result: HandoverResult, judged_by: str, validated: Path | None,
    ) -> None:  # fmt: skip
        self._made, self._programme, self._found = made, programme, found
        self._options, self._settings, self._at, self._result = options, settings, at, result
        self._judged_by, self._validated = judged_by, validated
        self._personal = not options.without_accounts
        self._spilled = SortedReads(made.parent / "spill", settings.ports_per_file)
        self._counts: Ints = np.zeros(len(found), np.int64)
        self._passed: dict[int, HandedPort] = {}
        self._left: list[tuple[Candidate, tuple[Reason, ...]]] = []
        self._files: list[tuple[str, int | None]] = []
        self._dropped: Counter[str] = Counter()
        self._last_us = 0

    def spill(self, say: Progress) -> None:
        """Take every read once and put those of ports that could pass aside, by groups of ports."""
        places = Seats(self._found)
        seats = _Spill(places, self._spilled, self._dropped, self._counts)
        if self._validated is not None:
            size = self._validated.stat().st_size if self._validated.is_file() else 0
            for block in validated_blocks(self._validated):
                seats.take(block.serials, block.serial, block.port, block.at_us, block.index, block.quality)
                say("reading the validated reads", block.bytes_done, size)
            say("reading the validated reads", size, size)
        else:
            source = self._programme.reads
            assert source is not None
            for batch in source.batches():
                # A read that the sender marks as repeated is an older one come again.
                again = batch.flag == 2
                self._dropped["marked as repeated"] += int(again.sum())
                quality = np.where(batch.flag == 1, ESTIMATED, RAW)
                columns = (batch.endpoint, batch.port, batch.at_us, batch.index, quality)
                seats.take(source.endpoints, *(column[~again] for column in columns))
                say("reading the reads", batch.bytes_done, source.total_bytes)
            say("reading the reads", source.total_bytes, source.total_bytes)
            self._result.said += [note for note in source.notes if note not in self._result.said]
        self._last_us = seats.last_us
        self._say_strangers(places.strangers)
        self._say_bad_rows()

    def _say_strangers(self, strangers: set[tuple[str, int]]) -> None:
        """Say which ports were heard that no fitting names."""
        self._result.unfitted = len(strangers)
        if strangers:
            names = ", ".join(f"{serial} port {port}" for serial, port in sorted(strangers)[:5])
            more = f" and {len(strangers) - 5:,} more" if len(strangers) > 5 else ""
            heard = counted(len(strangers), "port")
            self._result.said.append(f"{heard} heard that no fitting names; the reads stay out: {names}{more}.")

    def _say_bad_rows(self) -> None:
        """Say how many rows of each file could not be used: a port may be missing for it."""
        source = self._programme.reads
        counts = {**self._programme.problem_counts, **({} if source is None else source.problem_counts)}
        for file, count in counts.items():
            if count:
                self._result.said.append(f"{file}: {counted(count, 'bad row')} left out; dialtrue watch says which.")

    def decide(self) -> None:
        """Hold every port against the rules, now that its reads are counted."""
        result = self._result
        by_rule: Counter[str] = Counter()
        for number, each in enumerate(self._found):
            each.case = replace(each.case, reads=int(self._counts[number]) if each.seated else -1)
            against = each.against(self._settings)
            wanted = not against or (self._options.include_doubtful and _may_be_doubtful(each, against))
            if wanted and each.handed is not None:
                self._passed[number] = replace(each.handed, accepted=not against)
                result.doubtful += bool(against)
            else:
                self._left.append((each, against))
                by_rule.update(reason.code for reason in against)
        result.handed, result.left_out = len(self._passed), len(self._left)
        result.by_rule = dict(by_rule.most_common())

    def write_reads(self, say: Progress) -> None:
        """Write the reads of the ports that passed, group by group, in every form that is asked for."""
        with ExitStack() as stack:
            writers = self._writers()
            for writer in writers:
                stack.callback(writer.give_up)
            self._write_groups(writers, say)

    def _write_groups(self, writers: list[PartWriter], say: Progress) -> None:
        told, zone = Thinned(), self._programme.timezone
        for done, rows in enumerate(self._spilled.groups(), 1):
            passed = np.isin(rows["port"], np.array(list(self._passed), np.int64))
            self._dropped[_OUTSIDE] += int((~passed).sum())
            rows = without_twins(rows[passed], told)
            if self._options.daily:
                rows = last_of_day(rows, _local_days(rows["at_us"], zone), told)
            ports = self._by_port(rows)
            for writer in writers:
                writer.add(ports)
            self._result.reads += len(rows)
            say("writing the forms", done, len(self._spilled))
        for writer in writers:
            self._files += writer.close()
            if isinstance(writer, EspiFeeds) and writer.unwritten:
                names = ", ".join(port.endpoint_serial for port in writer.unwritten[:5])
                self._result.said.append(
                    f"{counted(len(writer.unwritten), 'port')} not in the ESPI files, index too large or fine: {names}."
                )
        self._dropped.update(
            {"twice the same": told.twice, "two values for one moment": told.contradicting,
             "thinned to one a day": told.thinned}
        )  # fmt: skip
        self._result.reads_left_out = {name: count for name, count in self._dropped.items() if count}

    def _writers(self) -> list[PartWriter]:
        forms, writers = self._options.forms, list[PartWriter]()
        name = self._name()
        if "csv" in forms or "parquet" in forms:
            writers.append(
                ReadsTables(
                    self._made,
                    personal=self._personal,
                    csv="csv" in forms,
                    parquet="parquet" in forms,
                    notes=self._notes(),
                )
            )
        if "espi" in forms:
            year = (dt.datetime(1970, 1, 1, tzinfo=dt.UTC) + dt.timedelta(microseconds=self._last_us)).year
            zone = local_time(self._programme.timezone, year)
            if zone.note:
                self._result.said.append(zone.note)
            writers.append(
                EspiFeeds(self._made, programme=name, made_at=self._at, zone=zone, use=self._options.espi_use)
            )
        if "senml" in forms:
            writers.append(SenmlPacks(self._made, programme=name))
        return writers

    def _by_port(self, rows: Any) -> list[PortReads]:
        if not len(rows):
            return []
        edges = [0, *(np.flatnonzero(np.diff(rows["port"])) + 1).tolist(), len(rows)]
        found = []
        for low, high in pairwise(edges):
            port = self._passed[int(rows["port"][low])]
            quality = rows["quality"][low:high] if port.accepted else np.full(high - low, QUESTIONABLE, np.int8)
            found.append(
                PortReads(port, rows["at_us"][low:high].copy(), rows["index"][low:high].copy(), quality.copy())
            )
        return found

    def write_tables(self) -> None:
        """Write installs and the ports that were left out; the latter as CSV whatever the forms."""
        forms, personal = self._options.forms, self._personal
        rows = [install_row(port) for port in self._passed.values()]
        left = [left_out_row(each, against, personal=personal, salt=self._options.salt) for each, against in self._left]
        self._result.examples = left[:20]
        csv, parquet = "csv" in forms, "parquet" in forms
        self._files += write_rows(
            self._made, INSTALLS, rows, personal=personal, csv=csv, parquet=parquet, notes=self._notes()
        )
        self._files += write_rows(self._made, LEFT_OUT, left, personal=personal, csv=True, parquet=False, notes={})
        tables = [INSTALLS, READS_OUT, LEFT_OUT] if "csv" in forms else [LEFT_OUT]
        sized = [
            (t, (self._made / f"{t.name}.csv").stat().st_size, digest(self._made / f"{t.name}.csv")) for t in tables
        ]
        name = "".join(mark if mark.isascii() and mark.isalnum() else "-" for mark in self._name().lower())
        text = data_package(
            sized, name=name, title=f"Installs and reads of {self._name()}", made_at=f"{self._at:%Y-%m-%dT%H:%M:%SZ}",
            personal=personal,
        )  # fmt: skip
        (self._made / "datapackage.json").write_text(text, encoding="utf-8")
        self._files.append(("datapackage.json", None))

    def finish(self) -> None:
        """Write the manifest: files with checksums, counts, and by which rules and options they were made."""
        result, options = self._result, self._options
        result.files = described(self._made, self._files)
        document = {
            "programme": self._name(),
            "timezone": self._programme.timezone,
            "made_at": f"{self._at:%Y-%m-%dT%H:%M:%SZ}",
            "made_by": f"dialtrue {__version__}",
            "verdicts_from": self._judged_by,
            "reads_from": self._reads_from(),
            "rules": {
                "verdict": "sound or innocent, no action asked for; or a fault put right since",
                "least_probability": self._settings.least_probability,
                "checks_from_the_desk": "allowed" if self._settings.allow_checks else "hold a port back",
                "records": "complete; start index equal to the dial's; no other meter on the same port",
                "reads": "at least one; none from before the fitting, the repair, or after the removal",
                "include_doubtful": options.include_doubtful,
            },
            "privacy": self._privacy(),
            "espi": "use between reads" if options.espi_use else "index",
            "reads_kept": "the last of each local day" if options.daily else "all",
            "counts": {
                "fitted_ports": result.ports, "handed_over": result.handed, "of_these_doubtful": result.doubtful,
                "left_out": result.left_out, "left_out_by_rule": result.by_rule, "unfitted_ports": result.unfitted,
                "reads": result.reads, "reads_left_out": result.reads_left_out,
            },
            "note": "Whether a bill may rest on these reads is decided by your tariff and local law.",
            "files": result.files,
        }  # fmt: skip
        write_manifest(self._made, document)
        result.files.append({"path": MANIFEST, "rows": None, "bytes": (self._made / MANIFEST).stat().st_size})

    def _reads_from(self) -> str:
        if self._validated is None:
            return "the programme's own, not checked one by one"
        return f"{self._validated.name}, SHA-256 {digest(self._validated)}"

    def _privacy(self) -> str:
        if self._personal:
            return "accounts, sites and serials as they are"
        kept = "that the sender gave" if self._options.salt_kept else "that was drawn for this run and not kept"
        return f"no account, site or meter; endpoints named by a keyed hash with a salt {kept}"

    def _name(self) -> str:
        return Path(self._programme.folder).resolve().name or "programme"

    def _notes(self) -> dict[str, str]:
        return {
            "made_by": f"dialtrue {__version__}",
            "units": "volume in the column unit; index in index_resolution; times UTC",
        }


class _Spill:
    """Puts reads aside by their port and counts them."""

    def __init__(self, seats: Seats, spilled: SortedReads, dropped: Counter[str], counts: Ints) -> None:
        self._seats, self._spilled, self._dropped, self._counts = seats, spilled, dropped, counts
        self.last_us = 0

    def take(self, serials: list[str], endpoint: Any, port: Any, at_us: Any, index: Any, quality: Any) -> None:
        """Take some reads; those of no port that could pass are only counted."""
        seat = self._seats.of(serials, endpoint, port, at_us)
        good = seat >= 0
        self._dropped[_OUTSIDE] += int((~good).sum())
        if good.any():
            # A port that only estimates speak of was not heard.
            heard = seat[good & ~np.isin(quality, ESTIMATES)]
            self._counts += np.bincount(heard, minlength=len(self._counts))
            self.last_us = max(self.last_us, int(at_us[good].max()))
        self._spilled.add(seat[good], at_us[good], index[good], quality[good])


def _may_be_doubtful(each: Candidate, against: tuple[Reason, ...]) -> bool:
    """Return whether a port may go out as doubtful: not where its reads cannot be tied to it or stated at all."""
    never = {"shared_port", "no_reads", "no_exact_volume"}
    return each.handed is not None and not any(reason.code in never for reason in against)


def _local_days(at_us: Any, zone: str) -> Ints:
    local = pc.local_timestamp(pa.array(at_us, pa.int64()).cast(pa.timestamp("us", tz=zone)))
    return np.asarray(pc.cast(local, pa.date32(), safe=False).cast(pa.int32()), np.int64)
