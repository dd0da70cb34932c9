"""What a validation found, in figures: for the terminal, for JSON and for whoever asks later."""

from __future__ import annotations

from dataclasses import dataclass, field

CADENCES = ("hourly or finer", "several a day", "daily", "weekly", "monthly or rarer", "not known")


@dataclass(frozen=True, slots=True)
class PortCheck:
    """A check that a port failed, as no single read does; ``says`` gives its figures."""

    rule: str
    endpoint_serial: str
    port: int
    meter_serial: str
    says: str


@dataclass(frozen=True, slots=True)
class PortTally:
    """What one port came to. Counts of reads; ``rules`` are the failed checks of reads and how often each failed."""

    endpoint_serial: str
    port: int
    meter_serial: str
    reads: int
    missing: int
    left: int
    failed: int
    rules: tuple[tuple[str, int], ...] = ()


@dataclass(slots=True)
class ValidationAccount:
    """The whole result but the reads themselves.

    Attributes
    ----------
    reads, ports : int
        Reads taken and ports heard.
    cadences : dict
        Ports by how often they are read.
    gaps, estimates : dict
        Gaps filled and estimated reads, by ``FILL_RULES``.
    left : dict
        Gaps that were left open, by the reason in words, and the reads missing in them.
    said, failed_ports : dict
        Reads of which each of ``READ_RULES`` is said; ports that failed each of ``PORT_RULES``.
    failed_reads : int
        Reads that failed a check.
    out_of_order : int
        Ports whose rows do not stand in order of time; they were sorted, which changes nothing else.
    worst : list of PortTally
        Ports with the most failed and missing reads, the worst first.
    checks : list of PortCheck
        Every check that a port failed.
    notes : list of str
        What is to be said of the files.
    bad_rows : dict
        Rows left out, by file.
    """

    reads: int = 0
    ports: int = 0
    cadences: dict[str, int] = field(default_factory=dict)
    gaps: dict[str, int] = field(default_factory=dict)
    estimates: dict[str, int] = field(default_factory=dict)
    left: dict[str, tuple[int, int]] = field(default_factory=dict)
    said: dict[str, int] = field(default_factory=dict)
    failed_ports: dict[str, int] = field(default_factory=dict)
    failed_reads: int = 0
    out_of_order: int = 0
    worst: list[PortTally] = field(default_factory=list)
    checks: list[PortCheck] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    bad_rows: dict[str, int] = field(default_factory=dict)

    @property
    def failed(self) -> bool:
        """Whether any check failed, of a read or of a port."""
        return self.failed_reads > 0 or bool(self.checks)

    @property
    def estimated(self) -> int:
        """Estimated reads of all kinds."""
        return sum(self.estimates.values())
