"""Data sheets of outputs, inputs and cables: TOML in, checked values out, every fault with file, line and key."""

from __future__ import annotations

import dataclasses
import difflib
import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from importlib import resources
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors import DialtrueError, SheetFault, UnknownGauge, UnknownSheet
from dialtrue.domain.pulse_chain.cable import Cable, gauge_ohm_per_km
from dialtrue.domain.pulse_chain.corners import Spread
from dialtrue.domain.pulse_chain.input import Input
from dialtrue.domain.pulse_chain.output import Output
from dialtrue.domain.pulse_chain.wire_ends import SheetLead, SheetTerminal
from dialtrue.files.sheet_faults import Fault, fault_words, lines_of, refuse_faults

SCHEMA: Final = 1
CONFIDENCE: Final = ("read", "computed", "practice", "memory, high", "memory, medium", "memory, low")
DOUBTFUL: Final = ("memory, medium", "memory, low")
USUAL: Final = ("practice", "memory, high", *DOUBTFUL)
OTHER_TABLES: Final = ("endpoint", "part", "mount")
"""Tables that other commands read; they pass here untouched."""

_SPREADS: Final = {"closed_ohm", "open_ohm", "high_v", "closed_share", "closed_ms", "supply_v", "pull_up_ohm"}
_TEXTS: Final = {"title", "standard", "class_label", "kind", "threshold_unit", "scheme", "edges", "tamper_loop"}
_LISTS: Final = {"debounce_choices_ms", "pull_up_choices_ohm"}
_INTS: Final = {"samples_to_confirm", "conductors"}
_WIRES: Final[dict[str, tuple[type[SheetLead] | type[SheetTerminal], str, str]]] = {
    "leads": (SheetLead, "role", "colour"),
    "terminals": (SheetTerminal, "function", "label"),
}
_LEANS: Final = {"colours": ("conductors",), "pairs": ("conductors",), "terminals": ("tamper_loop",)}
"""Keys that can only be judged beside another."""
_CLASSES: Final[dict[str, type[Output] | type[Input] | type[Cable]]] = {
    "output": Output,
    "input": Input,
    "cable": Cable,
}

Sheet = Output | Input | Cable


@dataclass(slots=True)
class Catalogue:
    """Every sheet that is loaded, by key."""

    outputs: dict[str, Output] = field(default_factory=dict)
    inputs: dict[str, Input] = field(default_factory=dict)
    cables: dict[str, Cable] = field(default_factory=dict)

    def output(self, key: str) -> Output:
        """Return an output sheet; UnknownSheet names the nearest keys."""
        return _found(self.outputs, "output", key)

    def input(self, key: str) -> Input:
        """Return an input sheet; UnknownSheet names the nearest keys."""
        return _found(self.inputs, "input", key)

    def cable(self, key: str) -> Cable:
        """Return a cable sheet; UnknownSheet names the nearest keys."""
        return _found(self.cables, "cable", key)


def _found(sheets: Mapping[str, Any], kind: str, key: str) -> Any:
    """Return a sheet by key, or say which keys are near."""
    if key in sheets:
        return sheets[key]
    near = difflib.get_close_matches(key, sheets, n=3, cutoff=0.3) or sorted(sheets)[:3]
    raise UnknownSheet(kind=kind, key=key, nearest=", ".join(near))


def sheet_fields(kind: str) -> list[str]:
    """Return the keys that a sheet of this kind may have, in order."""
    names = [item.name for item in dataclasses.fields(_CLASSES[kind]) if item.name not in ("key", "doubtful", "usual")]
    if kind == "cable":
        names += ["gauge", "stranded"]
    return [*names, "confidence"]


def shipped_catalogue() -> Catalogue:
    """Return the generic sheets that come with the package."""
    catalogue = Catalogue()
    folder = resources.files("dialtrue.files") / "sheets_shipped"
    for entry in sorted(folder.iterdir(), key=lambda item: item.name):
        if entry.name.endswith(".toml"):
            _add(catalogue, entry.read_text(encoding="utf-8"), entry.name)
    return catalogue


def load_catalogue(paths: Iterable[Path] = ()) -> Catalogue:
    """Return the shipped sheets and the user's own; an own sheet of the same key goes first.

    Parameters
    ----------
    paths : iterable of Path
        Files, or folders whose ``*.toml`` are read.

    Returns
    -------
    Catalogue

    Raises
    ------
    SheetFault
        A file cannot be read or has faults; every fault is named with line and key.

    Source
    ------
    Schema: ``docs/reference/data-sheets.md``.
    """
    catalogue = shipped_catalogue()
    for path in paths:
        files = sorted(path.glob("*.toml")) if path.is_dir() else [path]
        for file in files:
            try:
                text = file.read_text(encoding="utf-8-sig")
            except (OSError, UnicodeDecodeError) as why:
                raise SheetFault(file=str(file), count=1, lines=f"  the file cannot be read: {why}") from None
            _add(catalogue, text, str(file))
    return catalogue


def _add(catalogue: Catalogue, text: str, file: str) -> None:
    """Add every sheet of one file."""
    try:
        tables = tomllib.loads(text)
    except tomllib.TOMLDecodeError as why:
        raise SheetFault(file=file, count=1, lines=f"  not TOML: {why}") from None
    faults: list[Fault] = []
    lines = lines_of(text)
    for name, body in tables.items():
        if name == "schema":
            if body != SCHEMA:
                faults.append(Fault(lines.get("schema", 0), "schema", f"{body!r}; expected {SCHEMA}"))
        elif name in _CLASSES and isinstance(body, dict):
            for key, values in body.items():
                _add_sheet(catalogue, name, key, values, lines, faults)
        elif name not in OTHER_TABLES:
            says = f"not a table of data sheets; expected {', '.join(_CLASSES)}"
            faults.append(Fault(lines.get(name, 0), name, says))
    refuse_faults(file, faults)


def _add_sheet(
    catalogue: Catalogue, kind: str, key: str, values: Any, lines: Mapping[str, int], faults: list[Fault]
) -> None:
    """Check one sheet key by key, then as a whole, and add it."""
    path = f"{kind}.{key}"

    def fault(name: str, says: str) -> None:
        whole = f"{path}.{name}" if name else path
        faults.append(Fault(lines.get(whole, lines.get(path, 0)), whole, says))

    if not isinstance(values, dict):
        fault("", "expected a table of figures")
        return
    count = len(faults)
    given = _converted(kind, values, fault)
    required = {} if kind == "cable" else {"kind": given.get("kind", "not_known")}
    if kind != "cable" and "kind" not in given:
        fault("kind", "missing; a sheet must say its kind")
    for name, value in given.items():
        leans = {other: given[other] for other in _LEANS.get(name, ()) if other in given}
        trial = {"key": key, **required, **leans, name: value}
        try:
            _CLASSES[kind](**trial)
        except DialtrueError as why:
            fault(name, fault_words(why))
    if len(faults) > count:
        return
    try:
        sheet = _CLASSES[kind](key=key, **given)
    except DialtrueError as why:
        fault("closed_below" if "closed_below" in given else "", fault_words(why))
        return
    target: dict[str, Any] = {"output": catalogue.outputs, "input": catalogue.inputs, "cable": catalogue.cables}[kind]
    target[key] = sheet


def _converted(kind: str, values: dict[str, Any], fault: Any) -> dict[str, Any]:
    """Return the values in the forms that the sheet wants; each that has no such form is a fault."""
    allowed = sheet_fields(kind)
    given: dict[str, Any] = {}
    for name, value in values.items():
        if name not in allowed:
            near = difflib.get_close_matches(name, allowed, n=2, cutoff=0.5) or allowed[:5]
            fault(name, f"no such key; nearest: {', '.join(near)}")
        elif name == "confidence":
            given["doubtful"] = _marked(value, DOUBTFUL, allowed, fault)
            given["usual"] = _marked(value, USUAL, allowed, fault)
        elif name in ("gauge", "stranded"):
            continue
        else:
            form, held = _form(name, value)
            if form:
                fault(name, f"{value!r} is not {form}")
            else:
                given[name] = held
    if kind == "cable":
        _gauge(values, given, fault)
    return given


def _form(name: str, value: Any) -> tuple[str, Any]:
    """Return the form missed, or blank and the value in that form."""
    number = isinstance(value, int | float) and not isinstance(value, bool)
    if name in _SPREADS:
        if number:
            return "", Spread.exactly(float(value))
        if isinstance(value, list) and len(value) == 3 and all(_number(item) for item in value):
            return "", Spread(*(float(item) for item in value))
        return "a number or [low, nominal, high]", None
    if name in _TEXTS:
        return ("", value) if isinstance(value, str) else ("a text", None)
    if name in _LISTS:
        if isinstance(value, list) and all(_number(item) for item in value):
            return "", tuple(float(item) for item in value)
        return "a list of numbers", None
    if name in _WIRES:
        return _wires(name, value)
    if name == "colours":
        listed = isinstance(value, list) and all(isinstance(item, str) for item in value)
        return ("", tuple(value)) if listed else ("a list of colours, one for each conductor", None)
    if name == "pairs":
        listed = isinstance(value, list) and all(_number(item) and isinstance(item, int) for item in value)
        return ("", tuple(value)) if listed else ("a list of whole numbers, one for each conductor", None)
    if name == "screen":
        return ("", value) if isinstance(value, bool) else ("true or false", None)
    if name in _INTS:
        return ("", value) if isinstance(value, int) and number else ("a whole number", None)
    return ("", float(value)) if number else ("a number", None)


def _wires(name: str, value: Any) -> tuple[str, Any]:
    """Return the form missed, or blank and the leads or terminals that a sheet lists."""
    kind, first, second = _WIRES[name]
    fits = isinstance(value, list) and all(
        isinstance(item, dict)
        and first in item
        and set(item) <= {first, second}
        and all(isinstance(text, str) for text in item.values())
        for item in value
    )
    if not fits:
        return f'a list such as [{{ {first} = "pulse+", {second} = "…" }}]', None
    return "", tuple(kind(item[first], item.get(second, "")) for item in value)


def _number(value: Any) -> bool:
    """Return whether a TOML value is a number."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def _marked(value: Any, words: tuple[str, ...], allowed: list[str], fault: Any) -> frozenset[str]:
    """Return the keys that are marked with one of the words."""
    if not isinstance(value, dict):
        fault("confidence", "expected a table of figure = how well it is known")
        return frozenset()
    for name, how in value.items():
        if name not in allowed:
            fault("confidence", f"{name!r} is no figure of this sheet")
        elif how not in CONFIDENCE:
            fault("confidence", f"{name} = {how!r}; expected one of {', '.join(repr(word) for word in CONFIDENCE)}")
    return frozenset(name for name, how in value.items() if how in words)


def _gauge(values: dict[str, Any], given: dict[str, Any], fault: Any) -> None:
    """Turn a gauge into ohms per km; a figure of the sheet itself goes first."""
    gauge, stranded = values.get("gauge"), values.get("stranded", False)
    if not isinstance(stranded, bool):
        fault("stranded", f"{stranded!r} is not true or false")
        return
    if gauge is None or "ohm_per_km" in given:
        return
    try:
        given["ohm_per_km"] = gauge_ohm_per_km(str(gauge), stranded=stranded)
    except UnknownGauge as why:
        fault("gauge", f"{gauge!r} is not known; nearest: {why.facts['nearest']}")
