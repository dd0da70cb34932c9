"""What a survey flags: a doubt about some rows, what a person should look at, and the changes on offer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

from dialtrue.domain.survey.repair_line import RepairLine

Grade = Literal["block", "ask", "propose"]
"""``block``: the rows are not to be used until it is settled; ``ask``: somebody must look; ``propose``: one repair
fits, and is made only if accepted."""

GRADES: Final[tuple[Grade, ...]] = ("block", "ask", "propose")


@dataclass(frozen=True, slots=True)
class SurveyFlag:
    """One doubt.

    Attributes
    ----------
    key : str
        Rule, table and subject; the keys of ``lines`` begin with it.
    rule, grade : str
        What was found, by the names of ``RULES``, and how far it stands in the way.
    rows : tuple of int
        Lines of the file. Empty where it is about the file as a whole or about another table.
    sites : tuple of str
        Sites of those rows.
    says, ask : str
        The doubt in one sentence; what to ask or photograph.
    lines : tuple of RepairLine
        One for each cell that could be changed, with the proposal or an open answer.
    about : tuple of str
        Serials of other lists that it is about, such as listed meters that no survey met.
    """

    key: str
    rule: str
    grade: Grade
    rows: tuple[int, ...]
    sites: tuple[str, ...]
    says: str
    ask: str
    lines: tuple[RepairLine, ...] = ()
    about: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class SurveyCounts:
    """The figures that stand first. A row is one meter: the two registers of a compound meter count once.

    ``clean``, ``flagged`` and ``blocked`` count rows, the blocked ones among the flagged.
    """

    clean: int
    flagged: int
    blocked: int
    flags: int
    registers: int

    @property
    def rows(self) -> int:
        """Meters on the sheet. Never raises."""
        return self.clean + self.flagged


RULES: Final[dict[str, str]] = {
    "header": "a column name differs from the contract's",
    "row_shape": "a row has too many or too few cells",
    "scientific": "a serial was turned into a number",
    "zeros": "a serial has lost its leading zeros",
    "numbers": "serials or sites are numbers in the workbook",
    "spaces": "white space around serials or sites",
    "duplicate": "one serial on several meters",
    "near": "a serial is one slip away from a listed one",
    "other_serial": "the list has another serial for the site",
    "check_digit": "a serial fails its check digit",
    "unlisted": "meters that no list knows",
    "ghost": "listed meters that no survey met",
    "role": "registers of a compound meter do not pair up",
    "unit_odd": "a unit that is not the usual one of its class",
    "unit_mixed": "the dial and the pulse are in units of two systems",
    "unit_word": "a unit that the contract does not know",
    "unit_ratio": "use and history differ by the ratio of two units",
    "history_unit": "billed use of a unit is off by a unit's ratio",
    "use_flow": "a use that the meter could not pass",
    "weight": "a pulse weight that does not exist",
    "weight_odd": "a pulse weight that is not the usual one of its class",
    "size": "a meter size that no table knows",
    "dial_size": "a dial that does not fit the meter's size",
    "painted_zero": "moving digits and painted zeros do not add up",
    "dial_odd": "a dial that is not the usual one of its class",
    "swap": "latitude and longitude exchanged",
    "sign": "a coordinate has lost its sign",
    "nowhere": "a place at 0, 0",
    "far": "a place far from all others",
    "copied_place": "one position on meters of several addresses",
    "dates_ahead": "a survey that lies in the future",
    "dates": "dates with the day and the month in doubt",
    "dates_turned": "dates that a spreadsheet may have read with the month first",
    "spelling": "a word spelled otherwise than the contract does",
    "choice": "a word that the contract does not know",
    "free_text": "words where a number belongs",
    "bad_cell": "a cell that cannot be used",
}
"""Every rule and what it finds, in the order in which they are told within a grade."""


def summary_words(counts: SurveyCounts) -> str:
    """Say the whole survey in one line.

    Never raises.

    Examples
    --------
    >>> summary_words(SurveyCounts(8, 4, 2, 3, 13))
    '8 clean rows, 4 flagged (2 of them blocked), 3 flags: 12 meters with 13 registers.'
    """
    rows = "row" if counts.clean == 1 else "rows"
    flags = "flag" if counts.flags == 1 else "flags"
    blocked = f" ({counts.blocked:,} of them blocked)" if counts.blocked else ""
    if counts.blocked == counts.flagged and counts.blocked:
        blocked = " (blocked)" if counts.blocked == 1 else " (all blocked)"
    meters = "meter" if counts.rows == 1 else "meters"
    registers = "register" if counts.registers == 1 else "registers"
    return (
        f"{counts.clean:,} clean {rows}, {counts.flagged:,} flagged{blocked}, {counts.flags:,} {flags}: "
        f"{counts.rows:,} {meters} with {counts.registers:,} {registers}."
    )
