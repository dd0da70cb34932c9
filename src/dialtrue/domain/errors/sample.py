"""Errors of acceptance by lot: plans that are not known, draws that must not be made twice, counts that cannot be."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class UnknownAql(DialtrueError):
    """An acceptance quality limit that the tables here do not hold."""

    code = "UNKNOWN-AQL"
    exit_code = 2
    message = "The plans for an acceptance quality limit of {aql} % are not known here."
    remedy = "Choose one of {known}; or accept at zero, such as 'zero 5'."
    example = {"aql": "3.0", "known": "0.65, 1.0, 1.5, 2.5, 4.0"}


class UnknownLevel(DialtrueError):
    """An inspection level that the tables do not hold."""

    code = "UNKNOWN-LEVEL"
    exit_code = 2
    message = "There is no inspection level {level!r}."
    remedy = "Choose one of {known}; II is the usual one."
    example = {"level": "IV", "known": "S-1, S-2, S-3, S-4, I, II, III"}


class LotTooSmall(DialtrueError):
    """A lot that is too small to draw from."""

    code = "LOT-TOO-SMALL"
    exit_code = 2
    message = "A lot of {size} cannot be sampled by a table."
    remedy = "Inspect all of it, or gather larger lots with --lot-by."
    example = {"size": 1}


class BadShare(DialtrueError):
    """A share, a confidence or a count outside its range."""

    code = "BAD-SHARE"
    exit_code = 2
    message = "{what} is {value}."
    remedy = "Give {expected}."
    example = {"what": "the share to prove", "value": "0", "expected": "a share above 0 and below 100 %"}


class MoreDefectsThanInspected(DialtrueError):
    """More bad units than units that were looked at."""

    code = "MORE-DEFECTS-THAN-INSPECTED"
    exit_code = 2
    message = "{bad} bad of {inspected} inspected cannot be."
    remedy = "Count each site once, with its worst defect; then count again."
    example = {"bad": 51, "inspected": 50}


class BadDemand(DialtrueError):
    """A demand on a grade of defects that is not in its form."""

    code = "BAD-DEMAND"
    exit_code = 2
    message = "{text!r} is no demand on defects."
    remedy = "Write 'aql 1.0', 'zero 5' (no defect found proves below 5 % with 95 % confidence), or 'none'."
    example = {"text": "one percent"}


class UnknownLot(DialtrueError):
    """A lot that the programme does not have."""

    code = "UNKNOWN-LOT"
    exit_code = 2
    message = "There is no lot {lot!r} {by}."
    remedy = "The nearest are {nearest}; dialtrue sample FOLDER plan lists all."
    example = {"lot": "Crew C 2026-W13", "by": "by crew and week", "nearest": "C 2026-W13, C 2026-W12"}


class UnknownLotColumn(DialtrueError):
    """A column to make lots by that neither fittings nor sites have."""

    code = "UNKNOWN-LOT-COLUMN"
    exit_code = 2
    message = "Lots cannot be made by {column!r}: neither fittings nor sites have such a column."
    remedy = "Choose crew_week, cable_lot, or a column: {nearest}."
    example = {"column": "batch_no", "nearest": "batch, area"}


class NoSeed(DialtrueError):
    """A draw without a seed that was fixed before."""

    code = "NO-SEED"
    exit_code = 2
    message = "No seed is fixed for lot {lot}."
    remedy = (
        "Fix one before the crew knows the lot is due and tell it to both sides, then give --seed TEXT, or write "
        'seed = "…" under [sample] in programme.toml.'
    )
    example = {"lot": "C 2026-W13"}


class LotDrawn(DialtrueError):
    """A lot that was drawn already."""

    code = "LOT-DRAWN"
    exit_code = 2
    message = "Lot {lot} was drawn on {at} with the seed {seed!r}; a second draw would let somebody choose."
    remedy = "Use the standing list. After a rejection and the screening of all of it, draw a new sample with --again."
    example = {"lot": "C 2026-W13", "at": "2026-04-02 08:00 UTC", "seed": "heron 7"}


class NotRejected(DialtrueError):
    """A new sample was asked for of a lot that was not rejected."""

    code = "NOT-REJECTED"
    exit_code = 2
    message = "Lot {lot} is not rejected ({decision}); a new sample follows a rejection and the screening only."
    remedy = "Judge the standing sample first: dialtrue sample FOLDER judge."
    example = {"lot": "C 2026-W13", "decision": "not yet"}


class ReplacementRefused(DialtrueError):
    """A site was to be replaced in a sample without the record that allows it."""

    code = "REPLACEMENT-REFUSED"
    exit_code = 2
    message = "{site} is not replaced in lot {lot}: {why}."
    remedy = "{next}"
    example = {
        "site": "S12",
        "lot": "C 2026-W13",
        "why": "inspections holds no visit graded no_access there",
        "next": "Record the attempt in inspections first.",
    }


class InspectionStopped(DialtrueError):
    """Inspection is stopped by the switching rules."""

    code = "INSPECTION-STOPPED"
    exit_code = 2
    message = "Lot {lot} is not drawn: {why}, which stops inspection until the contractor has acted."
    remedy = "Once the contractor has shown what was changed, resume with --severity tightened."
    example = {"lot": "C 2026-W13", "why": "5 lots were rejected on tightened inspection"}


class DrawDamaged(DialtrueError):
    """A draw whose rows no longer say what was drawn."""

    code = "DRAW-DAMAGED"
    exit_code = 18
    message = "The draw of lot {lot} cannot be used: {why}."
    remedy = "Put back the file that was written when the lot was drawn; the same seed gives the same list."
    example = {"lot": "C 2026-W13", "why": "its rows have two seeds"}


class UnknownSampleSetting(DialtrueError):
    """A name in the table [sample] that means nothing."""

    code = "UNKNOWN-SAMPLE-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "sample.sed", "nearest": "sample.seed"}


class BadSampleSetting(DialtrueError):
    """A setting of the sampling that is of the wrong kind, or out of its range."""

    code = "BAD-SAMPLE-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {"file": "programme.toml", "key": "sample.level", "value": "'IV'", "expected": "one of I, II, III"}
