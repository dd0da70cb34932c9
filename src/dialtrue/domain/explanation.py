"""Why a port was judged as it was: what each block said in bits, the looks, the numbers, and the pictures of them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from dialtrue.domain.evidence_picture import EvidencePicture, Series
from dialtrue.domain.faults import CATALOGUE
from dialtrue.domain.finding import Figure, Finding
from dialtrue.domain.watch_result import PortTrace

NATS_PER_BIT = 0.6931471805599453
"""ln 2. One bit doubles the odds. Source: definition."""


@dataclass(frozen=True, slots=True)
class Chance:
    """One cause with its posterior probability. [-]"""

    fault: str
    probability: float


@dataclass(frozen=True, slots=True)
class BlockSay:
    """What one block says for the named cause, in bits as they count in the verdict; negative speaks against it.

    ``bits_to_other`` is against the cause that the verdict must beat: sound, or the runner-up where sound is named;
    ``bits_to_runner_up`` against the runner-up.
    """

    block: str
    says: str
    figures: dict[str, Figure]
    bits_to_other: float
    bits_to_runner_up: float


@dataclass(frozen=True, slots=True)
class Look:
    """A dial read beside the index. Volumes since the fitting, in the dial's unit.

    ``difference`` is index less dial, ``noise`` what reading and interpolation alone may make of it; None where no
    index stands beside the dial.
    """

    at: dt.datetime
    source: str
    dial_text: str
    index_count: int | None
    dial_volume: float | None
    index_volume: float | None
    difference: float | None
    noise: float | None


@dataclass(frozen=True, slots=True)
class Fingerprint:
    """What the numbers themselves tell.

    ``weight_over_resolution`` is what every step should be a multiple of, None where the record gives no whole number;
    ``common_divisor`` what every step is a multiple of; ``steps`` forward steps, ``odd_steps`` those of an odd number
    of pulse weights; ``zero_steps`` of ``short_steps`` short steps moved nothing.
    """

    weight_over_resolution: int | None
    common_divisor: int
    steps: int
    odd_steps: int
    zero_steps: int
    short_steps: int


@dataclass(frozen=True, slots=True)
class WetDry:
    """Hours and registered volume per hour, wet and dry, in the dial's unit; ``expected_wet`` from dry hours of the
    same time of day."""

    wet_hours: int
    dry_hours: int
    wet_per_hour: float
    dry_per_hour: float
    expected_wet_per_hour: float


@dataclass(frozen=True, slots=True)
class DayProfile:
    """Share of a day's counting hours by local hour of the day, 24 each; ``town`` is the median port's."""

    port: tuple[float, ...]
    town: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class NeighbourFit:
    """The neighbour whose dial this index follows, and whose endpoint counts this meter; ``kind`` as in crossings."""

    meter_serial: str
    endpoint_serial: str
    port: int
    counted_by_endpoint: str
    counted_by_port: int
    kind: str
    bits: float


@dataclass(frozen=True, slots=True)
class Explanation:
    """All that stands behind one finding.

    ``chances`` hold the leading causes, likeliest first. ``prior_*`` is how much rarer or commoner the named cause is
    before a read is seen, ``together_*`` what the blocks say jointly of the moment it began beyond what each says
    alone; with the blocks' own they add up to ``total_*``, the logarithm of the odds. All in bits.
    ``other`` is the cause that ``*_to_other`` compare with. ``since_low`` and ``since_high`` bound the onset.
    """

    finding: Finding
    trace: PortTrace
    chances: tuple[Chance, ...]
    other: str
    says: tuple[BlockSay, ...]
    prior_to_other: float
    prior_to_runner_up: float
    together_to_other: float
    together_to_runner_up: float
    total_to_other: float
    total_to_runner_up: float
    looks: tuple[Look, ...]
    fingerprint: Fingerprint | None
    wet_dry: WetDry | None
    day_profile: DayProfile | None
    neighbour: NeighbourFit | None
    pictures: tuple[EvidencePicture, ...]


def bits_picture(explained: Explanation) -> EvidencePicture:
    """Show what each block said for and against the named cause, the prior first and the sum last. Never raises."""
    spoke = [item for item in explained.says if max(abs(item.bits_to_other), abs(item.bits_to_runner_up)) >= 0.05]
    names = ("before any read", *(item.block for item in spoke), "moment, jointly", "sum")
    titles = (explained.other, explained.finding.runner_up)
    rows = (
        (explained.prior_to_other, *(item.bits_to_other for item in spoke), explained.together_to_other,
         explained.total_to_other),
        (explained.prior_to_runner_up, *(item.bits_to_runner_up for item in spoke), explained.together_to_runner_up,
         explained.total_to_runner_up),
    )  # fmt: skip
    series = [
        Series(name=f"against: {CATALOGUE[title].title}", unit="bits", x=names, y=row)
        for title, row in zip(titles, rows, strict=True)
    ]
    caption = f"One bit doubles the odds of \u201c{CATALOGUE[explained.finding.fault].title}\u201d."
    if spoke:
        loudest = max(spoke, key=lambda item: abs(item.bits_to_other))
        side = "for" if loudest.bits_to_other > 0 else "against"
        caption += f" Most is said by the block {loudest.block}: {abs(loudest.bits_to_other):.1f} bits {side} it."
    return EvidencePicture(
        title="What each block says, in bits", kind="bars", x_name="block", zero=True,
        series=tuple(series[: 1 if titles[0] == titles[1] else 2]), caption=caption,
    )  # fmt: skip
