"""Cautions for the people on site: short, keyed by mount and task, each with where it comes from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

PRECEDENCE: Final = (
    "Reminders only. Local code, the utility's rules, makers' instructions and licensed trades come first."
)
"""What stands above every list of cautions."""


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution.

    ``topic`` is the word that is looked for, ``says`` what to do, ``source`` a key of ``docs/reference/sources.md``.
    ``mounts`` and ``tasks`` say where it holds; empty means everywhere.
    """

    topic: str
    says: str
    source: str
    mounts: tuple[str, ...] = ()
    tasks: tuple[str, ...] = ()


CAUTIONS: Final[tuple[Caution, ...]] = (
    Caution(
        "Confined space",
        "Stay out until somebody competent says otherwise. Before entry test the air, in this order: oxygen 19.5 to "
        "23.5 %, flammable gas under 10 % of its lower limit, toxic gas. One stays above.",
        "CONFINED-SPACE",
        mounts=("pit",),
    ),
    Caution("Head down", "Never lean head down into a deep pit alone.", "FIELD-PRACTICE", mounts=("pit",)),
    Caution(
        "Lid and pit",
        "Lift with hook and legs. Look for insects, snakes, needles and sewage. Leave the lid flush.",
        "FIELD-PRACTICE",
        mounts=("pit",),
    ),
    Caution("Traffic", "Vest, cones, van between you and the road.", "FIELD-PRACTICE", mounts=("pit", "pole")),
    Caution("Digging", "Call before you dig, even for a stake.", "CALL-BEFORE-DIGGING", tasks=("dig",)),
    Caution(
        "Ladder",
        "Trained people only, tied or footed. Firm ground, three points of contact.",
        "FIELD-PRACTICE",
        mounts=("pole", "wall"),
    ),
    Caution(
        "Overhead lines",
        "Keep ladder, pole and antenna at the power company's distance. Not sure: do not climb.",
        "FIELD-PRACTICE",
        mounts=("pole",),
    ),
    Caution(
        "Mains nearby",
        "Look for hidden cables before you drill. Mains wiring is for licensed electricians.",
        "FIELD-PRACTICE",
        mounts=("wall", "indoor"),
    ),
    Caution(
        "Asbestos and lead",
        "Old boards, lagging or paint: do not drill or scrape. Stop and ask.",
        "FIELD-PRACTICE",
        mounts=("indoor",),
    ),
    Caution(
        "Metal pipe",
        "It may carry current. Bonding jumper across before anything is opened. Tingle, spark or a warm jumper: stop "
        "and call the power company.",
        "PIPE-BONDING",
    ),
    Caution(
        "Valves",
        "Know where the curb stop is. If an old valve resists, stop.",
        "FIELD-PRACTICE",
    ),
    Caution("Lithium cells", "Do not short, open, crush or heat. Leaking: leave and air the place.", "LITHIUM-CELLS"),
    Caution("Radio", "Keep 20 cm (8 in) from the antenna while it sends.", "RADIO-20CM"),
    Caution("Drinking water", "Clean hands and tools. Follow the utility's rule on disinfection.", "FIELD-PRACTICE"),
)
"""In the order in which they are printed: what can kill at this mount first.

Source: the keys named; the wording and the choice are our own.
"""


def cautions_for(mount: str | None, *, tasks: tuple[str, ...] = ()) -> tuple[Caution, ...]:
    """Return the cautions for a mount and for the tasks done there.

    Parameters
    ----------
    mount : str or None
        Contract mount. None, or a word that is no mount, means that the place is not known: then the cautions of every
        mount are given, for the worse place must be expected.
    tasks : tuple of str
        Work beyond fitting, such as ``dig``.

    Returns
    -------
    tuple of Caution
        In printing order, never empty.

    Raises
    ------
    Never raises.

    Source
    ------
    ``CAUTIONS``. Our assumption: all cautions where the mount is not known; survey the mount to shorten the list.

    Examples
    --------
    >>> [caution.topic for caution in cautions_for("pole")][:3]
    ['Traffic', 'Ladder', 'Overhead lines']
    """
    known = mount in {place for caution in CAUTIONS for place in caution.mounts}
    return tuple(
        caution
        for caution in CAUTIONS
        if (not caution.mounts or not known or mount in caution.mounts)
        and (not caution.tasks or set(caution.tasks) & set(tasks))
    )
