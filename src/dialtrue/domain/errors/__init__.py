"""All errors, one class per cause; the catalogue page is generated from these classes.

Exit codes: 0 done; 1 a bug of ours; 2 wrong usage; 3 done, with findings to look at; 10s input files;
20s compatibility; 30s proof; 40s reads; 50s billing; 60s store; 70s sync.
"""

from dialtrue.domain.errors.as_of import BadMoment, BadStep, MomentAhead, NothingKnownYet, StepsBackwards
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
from dialtrue.domain.errors.explain import MeterNotFitted, MeterUnknown, PortUnknown
from dialtrue.domain.errors.extras import ExtraMissing
from dialtrue.domain.errors.input_files import (
    BadProgrammeFile,
    ColumnMissing,
    ColumnTwice,
    DamagedFile,
    EmptyFile,
    FileTooLarge,
    FileUnreadable,
    FolderIsAFile,
    FolderMissing,
    HeaderTooLarge,
    LineTooLong,
    NoTables,
    NotText,
    NotUtf8,
    OutputNotWritten,
    RowsRefused,
    TableIsAFolder,
    TwoFilesForOneTable,
    UnknownRepair,
    UnknownSuffix,
    UnknownTimeZone,
    WrongColumnType,
    WrongSeparator,
)
from dialtrue.domain.errors.kit import PlanPartsUnreadable
from dialtrue.domain.errors.output import OutputFolderTaken
from dialtrue.domain.errors.planning import BadPlanSetting, PortMissing, PortsExchanged, PortTaken, UnknownPlanSetting
from dialtrue.domain.errors.proof import ProofFigureRange
from dialtrue.domain.errors.quantity import BadDecimal, UnknownUnit
from dialtrue.domain.errors.reads import NothingToWatch
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
from dialtrue.domain.errors.replay import BadTruth
from dialtrue.domain.errors.routes import (
    BadRouteDay,
    BadRouteSetting,
    DistancesOfNowhere,
    NoCrew,
    NothingToRoute,
    UnknownCrew,
    UnknownRouteSetting,
)
from dialtrue.domain.errors.simulation import BadTownPlan, TownFolderTaken, TownNotWritten
from dialtrue.domain.errors.survey import AnswerMissing, BadSurveySetting, UnknownDecision, UnknownSurveySetting
from dialtrue.domain.errors.watch_settings import AbsurdWatchCosts, BadWatchSetting, UnknownWatchSetting
from dialtrue.domain.errors.watch_state import (
    StateDamaged,
    StateFolderTaken,
    StateOfAnotherProgramme,
    StateOfAnotherVersion,
)

__all__ = [
    "AbsurdWatchCosts",
    "AnswerMissing",
    "BadDecimal",
    "BadDialShape",
    "BadFlowBound",
    "BadIndexShape",
    "BadMeasure",
    "BadMoment",
    "BadPlanSetting",
    "BadProgrammeFile",
    "BadPulseWeight",
    "BadRouteDay",
    "BadRouteSetting",
    "BadStep",
    "BadSurveySetting",
    "BadTownPlan",
    "BadTruth",
    "BadWatchSetting",
    "ColumnMissing",
    "ColumnTwice",
    "ContradictoryThresholds",
    "DamagedFile",
    "DialCharacter",
    "DialPositions",
    "DialtrueError",
    "DistancesOfNowhere",
    "EmptyFile",
    "ExtraMissing",
    "FigureRange",
    "FileTooLarge",
    "FileUnreadable",
    "FolderIsAFile",
    "FolderMissing",
    "HeaderTooLarge",
    "LengthRange",
    "LineTooLong",
    "MeterNotFitted",
    "MeterUnknown",
    "MomentAhead",
    "NoCrew",
    "NoTables",
    "NotText",
    "NotUtf8",
    "NothingKnownYet",
    "NothingToRoute",
    "NothingToWatch",
    "OutputFolderTaken",
    "OutputNotWritten",
    "PaintedZero",
    "PlanPartsUnreadable",
    "PortMissing",
    "PortTaken",
    "PortUnknown",
    "PortsExchanged",
    "ProofFigureRange",
    "RowsRefused",
    "SheetFault",
    "StartIndexText",
    "StateDamaged",
    "StateFolderTaken",
    "StateOfAnotherProgramme",
    "StateOfAnotherVersion",
    "StepsBackwards",
    "TableIsAFolder",
    "TownFolderTaken",
    "TownNotWritten",
    "TwoFilesForOneTable",
    "UnknownCrew",
    "UnknownDecision",
    "UnknownFitRule",
    "UnknownGauge",
    "UnknownMeterSize",
    "UnknownPlanSetting",
    "UnknownRepair",
    "UnknownRouteSetting",
    "UnknownSheet",
    "UnknownSuffix",
    "UnknownSurveySetting",
    "UnknownTimeZone",
    "UnknownUnit",
    "UnknownWatchSetting",
    "WrongColumnType",
    "WrongSeparator",
    "catalogue",
]
