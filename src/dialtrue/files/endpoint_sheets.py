"""Data sheets of endpoints and of parts: TOML in, checked values out, every fault with file, line and key."""

from __future__ import annotations

import dataclasses
import difflib
import tomllib
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from importlib import resources
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors import BadDecimal, DialtrueError, SheetFault, UnknownSheet
from dialtrue.domain.hardware.endpoint import Endpoint, Weight
from dialtrue.domain.hardware.part import Part
from dialtrue.domain.quantity import UNITS, exact_decimal
from dialtrue.files.sheet_faults import Fault, fault_at, fault_words, lines_of, refuse_faults

_KINDS: Final[dict[str, type[Endpoint] | type[Part]]] = {"endpoint": Endpoint, "part": Part}
_TEXTS: Final = {"title", "title_metric", "input", "tamper_loop", "power", "kind", "unit", "source"}
_COUNTS: Final = {"ports", "spare_minimum", "spare_per_day", "pack"}
_NUMBERS: Final = {"cold_limit_c", "port_minutes"}
_EXACT: Final = {"spare_share"}
_QUANTITIES: Final = {
    "parts_per_endpoint", "parts_per_port", "parts_per_wired_loop", "parts_per_bridged_loop",
}  # fmt: skip


@dataclass(slots=True)
class Hardware:
    """Every endpoint and part that is loaded, by key, in the order of the files; ``own`` endpoints are not shipped."""

    endpoints: dict[str, Endpoint] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    own: list[str] = field(default_factory=list)

    def endpoint(self, key: str) -> Endpoint:
        """Return an endpoint sheet; UnknownSheet names the nearest keys."""
        return self._found(self.endpoints, "endpoint", key)

    def part(self, key: str) -> Part:
        """Return a part sheet; UnknownSheet names the nearest keys."""
        return self._found(self.parts, "part", key)

    @staticmethod
    def _found(sheets: Mapping[str, Any], kind: str, key: str) -> Any:
        if key in sheets:
            return sheets[key]
        near = difflib.get_close_matches(key, sheets, n=3, cutoff=0.3) or sorted(sheets)[:3]
        raise UnknownSheet(kind=kind, key=key, nearest=", ".join(near))


def hardware_fields(kind: str) -> list[str]:
    """Return the keys that a sheet of this kind (``endpoint`` or ``part``) may have, in order."""
    return [item.name for item in dataclasses.fields(_KINDS[kind]) if item.name != "key"]


def load_hardware(paths: Iterable[Path] = (), *, inputs: Iterable[str] | None = None) -> Hardware:
    """Return the shipped endpoints and parts and the user's own; an own sheet of the same key goes first.

    Parameters
    ----------
    paths : iterable of Path
        Files, or folders whose ``*.toml`` are read.
    inputs : iterable of str, optional
        Keys of the input sheets that are loaded: an endpoint with another input is then a fault.

    Returns
    -------
    Hardware

    Raises
    ------
    SheetFault
        A file cannot be read or has faults; every fault is named with line and key. A part that no part sheet
        describes is a fault too.

    Source
    ------
    Schema: ``docs/reference/hardware-sheets.md``.
    """
    hardware, known = Hardware(), None if inputs is None else set(inputs)
    folder = resources.files("dialtrue.files") / "sheets_shipped"
    texts = [
        (entry.name, entry.read_text(encoding="utf-8"))
        for entry in sorted(folder.iterdir(), key=lambda item: item.name)
        if entry.name.endswith(".toml")
    ]
    shipped = len(texts)
    for path in paths:
        for file in sorted(path.glob("*.toml")) if path.is_dir() else [path]:
            try:
                texts.append((str(file), file.read_text(encoding="utf-8-sig")))
            except (OSError, UnicodeDecodeError) as why:
                raise SheetFault(file=str(file), count=1, lines=f"  the file cannot be read: {why}") from None
    loaded = [(file, lines_of(text), _add(hardware, text, file)) for file, text in texts]
    hardware.own = list(dict.fromkeys(key for _, _, added in loaded[shipped:] for key in added))
    for file, lines, added in loaded:
        faults = [fault_at(lines, f"endpoint.{key}.{name}", says) for key, name, says in _loose(hardware, added, known)]
        refuse_faults(file, faults)
    return hardware


def _loose(hardware: Hardware, keys: list[str], inputs: set[str] | None) -> list[tuple[str, str, str]]:
    """Return what endpoints of one file name that no sheet describes: key, figure, words."""
    found = []
    for key in keys:
        sheet = hardware.endpoints[key]
        named = [(name, part) for name in sorted(_QUANTITIES) for part in getattr(sheet, name)]
        named += [("parts_per_mount", part) for parts in sheet.parts_per_mount.values() for part in parts]
        named += [("tools", part) for part in sheet.tools]
        named += [("tools_per_mount", part) for parts in sheet.tools_per_mount.values() for part in parts]
        for name, part in named:
            if part not in hardware.parts:
                near = difflib.get_close_matches(part, hardware.parts, n=3, cutoff=0.3)
                found.append((key, name, f"{part!r} is no part sheet; nearest: {', '.join(near) or 'none'}"))
        if inputs is not None and sheet.input not in inputs:
            near = difflib.get_close_matches(sheet.input, inputs, n=3, cutoff=0.3)
            found.append((key, "input", f"{sheet.input!r} is no input sheet; nearest: {', '.join(near) or 'none'}"))
    return found


def _add(hardware: Hardware, text: str, file: str) -> list[str]:
    """Add every endpoint and part of one file; return the keys of its endpoints."""
    try:
        tables = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as why:
        raise SheetFault(file=file, count=1, lines=f"  not TOML: {why}") from None
    faults: list[Fault] = []
    lines, added = lines_of(text), []
    for kind in _KINDS:
        body = tables.get(kind, {})
        if not isinstance(body, dict):
            faults.append(fault_at(lines, kind, "expected tables such as [part.gel-splice]"))
            continue
        for key, values in body.items():
            before = len(faults)
            sheet = _sheet(kind, key, values, lines, faults)
            if isinstance(sheet, Endpoint):
                hardware.endpoints[key] = sheet
                added.append(key)
            elif isinstance(sheet, Part) and len(faults) == before:
                hardware.parts[key] = sheet
    refuse_faults(file, faults)
    return added


def _sheet(kind: str, key: str, values: Any, lines: Mapping[str, int], faults: list[Fault]) -> Endpoint | Part | None:
    """Return one sheet, or None with its faults listed."""
    count = len(faults)

    def fault(name: str, says: str) -> None:
        faults.append(fault_at(lines, f"{kind}.{key}.{name}" if name else f"{kind}.{key}", says))

    if not isinstance(values, dict):
        fault("", "expected a table of figures")
        return None
    allowed, given = hardware_fields(kind), {}
    for name, value in values.items():
        if name not in allowed:
            near = difflib.get_close_matches(name, allowed, n=2, cutoff=0.5) or allowed[:5]
            fault(name, f"no such key; nearest: {', '.join(near)}")
            continue
        expected, held = _form(name, value)
        if expected:
            fault(name, f"{value!r} is not {expected}")
            continue
        given[name] = held
        try:
            _KINDS[kind](key=key, **{name: held})
        except DialtrueError as why:
            fault(name, fault_words(why))
    if kind == "endpoint" and "input" not in values:
        fault("input", "missing; an endpoint must name the sheet of its pulse input")
    return _KINDS[kind](key=key, **given) if len(faults) == count else None


def _form(name: str, value: Any) -> tuple[str, Any]:
    """Return the form missed, or blank and the value in that form."""
    if name in _FORMS:
        expected, take = _FORMS[name]
        try:
            return "", take(value)
        except (BadDecimal, TypeError, ValueError, AttributeError):
            return expected, None
    if name in _TEXTS:
        return ("", value) if isinstance(value, str) else ("a text", None)
    if name in _COUNTS:
        return ("", value) if isinstance(value, int) and not isinstance(value, bool) else ("a whole number", None)
    if name == "live_count":
        return ("", value) if isinstance(value, bool) else ("true or false", None)
    if name in _EXACT:
        return ("", _exact(value)) if _is_number(value) else ("a number", None)
    return ("", float(value)) if _is_number(value) else ("a number", None)


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _exact(value: Any) -> Fraction:
    """Return a TOML number or text as written, exactly: 0.1 is one tenth."""
    if not (_is_number(value) or isinstance(value, str)):
        raise TypeError
    return exact_decimal(str(value))


def _whole_numbers(value: Any) -> tuple[int, ...]:
    if not isinstance(value, list) or any(not isinstance(item, int) or isinstance(item, bool) for item in value):
        raise TypeError
    return tuple(value)


def _texts(value: Any) -> tuple[str, ...]:
    if not isinstance(value, list) or not all(isinstance(item, str) for item in value):
        raise TypeError
    return tuple(value)


def _exact_numbers(value: Any) -> tuple[Fraction, ...]:
    if not isinstance(value, list):
        raise TypeError
    return tuple(_exact(item) for item in value)


def _weights(value: Any) -> tuple[Weight, ...]:
    """Read texts such as "10 gal"."""
    found = []
    for text in _texts(value):
        number, unit = text.split()
        volume = exact_decimal(number)
        if unit not in UNITS or volume <= 0:
            raise ValueError
        found.append(Weight.of(number, unit, volume))
    return tuple(found)


def _quantities(value: Any) -> dict[str, Fraction]:
    counts = {str(part): _exact(count) for part, count in value.items()}
    if any(not 0 < count <= 10_000 for count in counts.values()):
        raise ValueError
    return counts


def _by_mount(take: Callable[[Any], Any]) -> Callable[[Any], dict[str, Any]]:
    return lambda value: {str(mount): take(held) for mount, held in value.items()}


def _minutes(value: Any) -> float:
    if not _is_number(value):
        raise TypeError
    return float(value)


_PARTS_FORM: Final = "a table of part = quantity, such as { gel-splice = 2 }"
_FORMS: Final[dict[str, tuple[str, Callable[[Any], Any]]]] = {
    "index_digits": ("a list of whole numbers", _whole_numbers),
    "index_units": ("a list of units", _texts),
    "index_resolutions": ("a list of numbers", _exact_numbers),
    "weights": ('a list of volumes with a unit of the contract, such as ["1 gal", "10 gal"]', _weights),
    "mounts": ("a list of mounts", _texts),
    "tools": ("a list of part keys", _texts),
    "parts_per_mount": ("a table of mount = { part = quantity }", _by_mount(_quantities)),
    "tools_per_mount": ("a table of mount = [part, ...]", _by_mount(_texts)),
    "job_minutes": ("a table of mount = minutes", _by_mount(_minutes)),
    **dict.fromkeys(_QUANTITIES, (_PARTS_FORM, _quantities)),
}
