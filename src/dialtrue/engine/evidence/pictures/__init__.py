"""What each block of evidence has to show of one port, as plain data for any renderer.

Volumes are litres; whoever draws them may convert. Captions therefore speak of ratios, counts, days and hours.
"""

from __future__ import annotations

from collections.abc import Callable

from dialtrue.domain.evidence_picture import EvidencePicture
from dialtrue.engine.evidence import delivery, night_floor, rain, silence
from dialtrue.engine.evidence.frame import Case
from dialtrue.engine.evidence.pictures.course import daily_picture, history_picture, level_picture
from dialtrue.engine.evidence.pictures.hours import clock_picture, weather_picture
from dialtrue.engine.evidence.pictures.looks import (
    excess_picture,
    neighbour_picture,
    pairs_picture,
    records_picture,
)
from dialtrue.engine.evidence.pictures.numbers import grain_picture, possibility_picture, size_picture

__all__ = ["BLOCK_PICTURES", "daily_picture", "size_picture"]


def _weather_picture(case: Case, row: int) -> EvidencePicture | None:
    """Hours tell more than days; where reads are a day apart the days must do."""
    return weather_picture(case, row) or rain.picture(case, row)


BLOCK_PICTURES: dict[str, Callable[[Case, int], EvidencePicture | None]] = {
    "records": records_picture,
    "pairs": pairs_picture,
    "excess in time": excess_picture,
    "granularity": grain_picture,
    "possibility": possibility_picture,
    "standstill": silence.picture,
    "night floor": night_floor.picture,
    "history": history_picture,
    "weather": _weather_picture,
    "level change": level_picture,
    "delivery": delivery.picture,
    "clock": clock_picture,
    "neighbours": neighbour_picture,
}
"""By the name of the block. A function returns None where its block has nothing to show of the port."""
