"""From a port's trace to its lined-up picture: the last dial read that has an index beside it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from dialtrue.domain.dial import Dial
from dialtrue.domain.errors import DialtrueError
from dialtrue.domain.index import Index
from dialtrue.domain.lined_up import LinedUp, line_up
from dialtrue.domain.watch_result import DialPoint, PortTrace


@dataclass(frozen=True, slots=True)
class TracePicture:
    """The picture and the dial read it stands for; ``at_fitting`` says that nobody has read the dial since."""

    point: DialPoint
    lined_up: LinedUp
    at_fitting: bool


def picture_of(trace: PortTrace) -> TracePicture | None:
    """Line up the last dial read of a trace that has an index at the same moment.

    Parameters
    ----------
    trace : PortTrace
        The series behind one finding.

    Returns
    -------
    TracePicture or None
        None where no dial read has an index beside it, or where the records describe no dial or index that could be
        drawn; the finding itself says so in words.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption: the latest pair shows the error as it stands today, which is what a technician will meet.
    """
    for point in reversed(trace.dial_points):
        if point.index_count is None:
            continue
        try:
            dial = Dial.of(
                moving_digits=trace.moving_digits,
                fixed_zeros=trace.fixed_zeros,
                unit=trace.dial_unit,
                resolution=trace.dial_resolution or None,
            )
            index = Index.of(digits=trace.index_digits, unit=trace.index_unit, resolution=trace.index_resolution or 1)
            at_fitting = trace.fitted_at is not None and abs(point.at - trace.fitted_at) < dt.timedelta(days=1)
            return TracePicture(point, line_up(dial, point.dial_text, index, point.index_count), at_fitting)
        except DialtrueError:
            continue
    return None
