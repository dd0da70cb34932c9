"""The manifest of a handover: which files, their rows, bytes and SHA-256, and by which rules they were made."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path
from typing import Any, Final

from dialtrue.domain.errors.handover import HandoverDamaged, NoManifest

MANIFEST: Final = "manifest.json"
FORM: Final = "dialtrue-handover-1"
_BLOCK_BYTES: Final = 1 << 20


def described(folder: Path, files: list[tuple[str, int | None]]) -> list[dict[str, Any]]:
    """Return path, rows, bytes and SHA-256 of each file, sorted by path."""
    return [
        {"path": name, "rows": rows, "bytes": (folder / name).stat().st_size, "sha256": digest(folder / name)}
        for name, rows in sorted(files)
    ]


def digest(path: Path) -> str:
    """Return a file's SHA-256 in hexadecimal, read block by block. Source: ``FIPS-180-4``."""
    found = hashlib.sha256()
    with path.open("rb") as source:
        while block := source.read(_BLOCK_BYTES):
            found.update(block)
    return found.hexdigest()


def write_manifest(folder: Path, document: dict[str, Any]) -> None:
    """Write the manifest as JSON."""
    text = json.dumps({"form": FORM, **document}, ensure_ascii=False, indent=1, allow_nan=False)
    (folder / MANIFEST).write_text(text + "\n", encoding="utf-8")


def read_manifest(folder: Path) -> dict[str, Any]:
    """Return a folder's manifest.

    Raises
    ------
    NoManifest
        There is none, or it is not one of a handover.
    """
    path = folder / MANIFEST
    try:
        document = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise NoManifest(folder=folder, what=f"there is no {MANIFEST}") from None
    except (OSError, UnicodeDecodeError, ValueError) as error:
        raise NoManifest(folder=folder, what=f"{MANIFEST} cannot be read ({str(error)[:80]})") from None
    whole = isinstance(document, dict) and document.get("form") == FORM and isinstance(document.get("files"), list)
    if not whole or not all(isinstance(each, dict) and isinstance(each.get("path"), str) for each in document["files"]):
        raise NoManifest(folder=folder, what=f"{MANIFEST} is not a manifest of a handover")
    return document


def check_handover(folder: Path) -> dict[str, Any]:
    """Work out the checksum of every file anew and hold it against the manifest; return the manifest.

    Parameters
    ----------
    folder : Path
        A folder that a handover made, or a copy of one.

    Raises
    ------
    NoManifest
        There is no manifest that can be read.
    HandoverDamaged
        A file is missing, shorter, longer or other than it was, or one lies there that the manifest does not name.
    """
    document = read_manifest(folder)
    wrong = []
    for each in document["files"]:
        path = folder / each["path"]
        if not path.resolve().is_relative_to(folder.resolve()) or not path.is_file():
            wrong.append(f"{each['path']} (missing)")
        elif path.stat().st_size != each.get("bytes"):
            wrong.append(f"{each['path']} ({path.stat().st_size:,} bytes, not {each.get('bytes')})")
        elif digest(path) != each.get("sha256"):
            wrong.append(f"{each['path']} (other content)")
    named = {each["path"] for each in document["files"]} | {MANIFEST}
    stray = [path.relative_to(folder).as_posix() for path in sorted(folder.rglob("*")) if path.is_file()]
    wrong += [f"{name} (not in the manifest)" for name in stray if name not in named]
    if wrong:
        shown = ", ".join(wrong[:5]) + (f" and {len(wrong) - 5} more" if len(wrong) > 5 else "")
        raise HandoverDamaged(folder=folder, count=len(wrong), files=len(document["files"]), which=shown)
    return document
