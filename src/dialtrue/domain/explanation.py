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
class OddsInBits:
    """What else stands in the odds of the named cause against one other, in bits.

    ``before`` is how much rarer or commoner the cause is before a read is seen; ``together`` what the blocks say
    jointly of the moment it began, beyond what each says alone; ``caution`` what is taken off where nobody has looked
    at the dial. With the blocks' own bits they add up to ``total``, the logarithm of the stated odds.
    """

    before: float
    together: float
    caution: float
    total: float


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

    ``chances`` hold the leading causes, likeliest first. ``other`` is the cause that ``to_other`` and the blocks'
    ``bits_to_other`` compare with.
    """

    finding: Finding
    trace: PortTrace
    chances: tuple[Chance, ...]
    other: str
    says: tuple[BlockSay, ...]
    to_other: OddsInBits
    to_runner_up: OddsInBits
    looks: tuple[Look, ...]
    fingerprint: Fingerprint | None
    wet_dry: WetDry | None
    day_profile: DayProfile | None
    neighbour: NeighbourFit | None
    pictures: tuple[EvidencePicture, ...]


def bits_rows(item: Explanation) -> list[tuple[str, str, float, float]]:
    """Return every row of the sum: name, what it says, bits against ``other`` and against the runner-up.

    The prior comes first, the blocks as they stand, the sum last; caution only where it took something. Never raises.
    """
    rows = [("before any read", "How much rarer or commoner the cause is among all ports.", "before")]
    late = [("moment, jointly", "What the blocks say together of when it began, beyond each alone.", "together")]
    if item.to_other.caution or item.to_runner_up.caution:
        late.append(("caution", "No dial has been read: no cause is stated as surer than that allows.", "caution"))
    late.append(("sum", "The stated odds of the named cause, in doublings.", "total"))

    def told(part: list[tuple[str, str, str]]) -> list[tuple[str, str, float, float]]:
        return [
            (name, words, getattr(item.to_other, key), getattr(item.to_runner_up, key)) for name, words, key in part
        ]

    blocks = [(say.block, say.says, say.bits_to_other, say.bits_to_runner_up) for say in item.says]
    return [*told(rows), *blocks, *told(late)]


def bits_picture(item: Explanation) -> EvidencePicture:
    """Show what each block said for and against the named cause, the prior first and the sum last. Never raises."""
    silent = {say.block for say in item.says if max(abs(say.bits_to_other), abs(say.bits_to_runner_up)) < 0.05}
    rows = [row for row in bits_rows(item) if row[0] not in silent]
    names = tuple(row[0] for row in rows)
    columns = [(item.other, tuple(row[2] for row in rows)), (item.finding.runner_up, tuple(row[3] for row in rows))]
    series = tuple(
        Series(name=f"against: {CATALOGUE[code].title}", unit="bits", x=names, y=values)
        for code, values in columns[: 1 if item.other == item.finding.runner_up else 2]
    )
    cause = CATALOGUE[item.finding.fault].title
    caption = f"One bit doubles the odds of \N{LEFT DOUBLE QUOTATION MARK}{cause}\N{RIGHT DOUBLE QUOTATION MARK}."
    if len(silent) < len(item.says):
        loudest = max(item.says, key=lambda say: abs(say.bits_to_other))
        side = "for" if loudest.bits_to_other > 0 else "against"
        caption += f" Most is said by the block {loudest.block}: {abs(loudest.bits_to_other):.1f} bits {side} it."
    return EvidencePicture(
        title="What each block says, in bits", kind="bars", x_name="block", zero=True, series=series, caption=caption
    )
