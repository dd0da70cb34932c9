"""A port as it is handed over: whose it is, what was keyed, what one count is worth, and from when its reads count."""

from __future__ import annotations

import hashlib
import hmac
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

QUALITIES: Final = ("validated", "raw", "interpolated", "like_days", "derived", "estimated", "questionable")
"""What a read is, the better first: checked; not checked one by one; estimated between two reads, from like days, or
from other days; estimated by the sender, nobody knows how; failed a check, or of a port that did not pass."""

ESPI_QUALITY: Final = (17, 14, 9, 8, 11, 16, 10)
"""Code of each quality. Source: ``NAESB-REQ-21``. The way the sender estimates is not known, hence 16, other."""

ESTIMATES: Final = tuple(QUALITIES.index(name) for name in ("interpolated", "like_days", "derived", "estimated"))
RAW: Final = QUALITIES.index("raw")
ESTIMATED: Final = QUALITIES.index("estimated")
QUESTIONABLE: Final = QUALITIES.index("questionable")


@dataclass(frozen=True, slots=True)
class HandedPort:
    """One fitted port. Texts are as recorded; times are UTC [µs since 1970].

    ``step`` is the volume of one count [volume_unit], ``step_m3`` the same [m3]; both are decimals that end. Reads
    from ``from_us`` up to ``to_us`` are its own. ``modulus`` is the count at which the index comes round.
    """

    key: str
    endpoint_serial: str
    port: int
    meter_serial: str
    register_role: str
    site: str
    account: str
    fitted_us: int
    dial_at_fit: str
    start_index: str
    index_digits: int
    index_unit: str
    index_resolution: str
    weight_set: str
    weight_unit: str
    tamper_loop: str
    dial_unit: str
    volume_unit: str
    step: Fraction
    step_m3: Fraction
    modulus: int
    fault: str
    probability: float
    accepted: bool
    from_us: int
    to_us: int


def hidden_key(salt: str, *parts: str) -> str:
    """Return a name for a thing that tells nothing of it without the salt: 16 hexadecimal digits.

    Parameters
    ----------
    salt : str
        A text that only the sender knows.
    parts : str
        What names the thing.

    Returns
    -------
    str
        The first 64 bits of a keyed hash; two of a million differ but for one chance in 37 million.

    Raises
    ------
    Never raises.

    Source
    ------
    HMAC with SHA-256 (``RFC-2104``, ``FIPS-180-4``).

    Examples
    --------
    >>> hidden_key("heron", "20000033", "1") == hidden_key("kite", "20000033", "1")
    False
    """
    told = "\x1f".join(parts).encode("utf-8")
    return hmac.new(salt.encode("utf-8"), told, hashlib.sha256).hexdigest()[:16]
