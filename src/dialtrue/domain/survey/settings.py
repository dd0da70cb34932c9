"""What a programme may say of its survey: the check digit of its serials, what is usual, what is too far."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class SurveySettings:
    """The table ``[survey]`` of ``programme.toml``.

    Attributes
    ----------
    check_digit : dict
        Scheme of the last characters of serials, by meter type; ``""`` stands for every type. See ``check_digits``.
    serial_length : dict
        Characters of a serial, by meter type; ``""`` for every type. Blank: the commonest length of the type.
    usual_share : float
        Share of a class (meter type, size, register) from which a value is its usual one. Our assumption: where more
        than one row in ten differs, the utility has both kinds. [-, 0.5..1]
    length_share : float
        The same for the length of serials, of which one in ten begins with a zero by chance alone. [-, 0.5..1]
    rare_share : float
        In a class without a usual value, one that so few rows have is asked about. Our assumption: a weight that is
        truly in use is in use more than once in fifty. [-, 0..0.2]
    least_class : int
        Fewest rows of a class that can have a usual value. Our assumption. [rows, >= 2]
    dial_hours : int
        A dial should not turn over within so many hours at Q3: ``OIML-R49``. [h, > 0]
    us_flow_share : Fraction
        Share of the safe maximum that stands for Q3 where the size is in inches. Our assumption: a six-wheel register
        in gallons is common on a 5/8 in body, and half of 20 gal/min over 1600 h is just below its 1,000,000 gal.
    most_dial_ratio : int
        A dial that holds more than so many times the least one has been written with a wrong unit, resolution or
        count of digits. Our assumption. [-, > 1]
    weight_leads : tuple of Fraction
        First figures of the usual pulse weights, each with every power of ten. Our assumption: 1, 2.5 and 5.
    far_km : float
        A place farther from the middle of the sites than this, and ten times as far as the usual, is asked about. Our
        assumption: no programme reaches across two counties. [km, > 0]
    ratio_tolerance : float
        How near a ratio must lie to that of two units. Our assumption: rounding of one figure of two digits. [-]
    """

    check_digit: Mapping[str, str] = field(default_factory=dict)
    serial_length: Mapping[str, int] = field(default_factory=dict)
    usual_share: float = 0.9
    length_share: float = 0.8
    rare_share: float = 0.02
    least_class: int = 5
    dial_hours: int = 1600
    us_flow_share: Fraction = Fraction(1, 2)
    most_dial_ratio: int = 1000
    weight_leads: tuple[Fraction, ...] = (Fraction(1), Fraction(5, 2), Fraction(5))
    far_km: float = 50.0
    ratio_tolerance: float = 0.02
