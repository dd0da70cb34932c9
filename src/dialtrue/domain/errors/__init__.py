"""All errors, one class per cause; the catalogue page is generated from these classes.

Exit codes: 0 done; 1 a bug of ours; 2 wrong usage; 3 done, with findings to look at; 10s input files;
20s compatibility; 30s proof; 40s reads; 50s billing; 60s store; 70s sync.
"""

from dialtrue.domain.errors.base import DialtrueError, catalogue
from dialtrue.domain.errors.compatibility import (
    BadMeasure,
    ContradictoryThresholds,
    FigureRange,
    LengthRange,
    SheetFault,
    UnknownFitRule,
    UnknownGauge,
    UnknownMeterSize,
    UnknownSheet,
)
from dialtrue.domain.errors.output import OutputFolderTaken
from dialtrue.domain.errors.quantity import BadDecimal, UnknownUnit
from dialtrue.domain.errors.register import (
    BadDialShape,
    BadFlowBound,
    BadIndexShape,
    BadPulseWeight,
    DialCharacter,
    DialPositions,
    PaintedZero,
    StartIndexText,
)

__all__ = [
    "BadDecimal",
    "BadDialShape",
    "BadFlowBound",
    "BadIndexShape",
    "BadMeasure",
    "BadPulseWeight",
    "ContradictoryThresholds",
    "DialCharacter",
    "DialPositions",
    "DialtrueError",
    "FigureRange",
    "LengthRange",
    "OutputFolderTaken",
    "PaintedZero",
    "SheetFault",
    "StartIndexText",
    "UnknownFitRule",
    "UnknownGauge",
    "UnknownMeterSize",
    "UnknownSheet",
    "UnknownUnit",
    "catalogue",
]
