"""Errors of the handover: folders that hold nothing to hand over, findings of another programme, damaged folders."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class NothingToHandOver(DialtrueError):
    """A table without which nothing can be handed over is missing."""

    code = "NOTHING-TO-HAND-OVER"
    exit_code = 10
    message = "{folder}: there are no {what}, so nothing can be handed over."
    remedy = "Put {what} into the folder (.csv, .csv.gz or .parquet); {why}."
    example = {"folder": "my-programme", "what": "reads", "why": "a billing system bills from reads"}


class HandoverFolderTaken(DialtrueError):
    """The handover would replace a folder that no handover made."""

    code = "HANDOVER-FOLDER-TAKEN"
    exit_code = 2
    message = "--out {folder}: {what}, so it is left alone."
    remedy = "Name a new folder, such as --out {folder}-new."
    example = {"folder": "to-billing", "what": "the folder exists and was not made by a handover"}


class FindingsOfAnother(DialtrueError):
    """A file of findings that speaks of other ports than the programme has."""

    code = "FINDINGS-OF-ANOTHER"
    exit_code = 18
    message = "{file} speaks of {known} of the {ports} fitted ports: it belongs to another programme or another day."
    remedy = "Make it anew: dialtrue watch {folder} --out {file}; or leave --findings out."
    example = {"file": "findings.csv", "known": 0, "ports": 299, "folder": "my-programme"}


class NoManifest(DialtrueError):
    """A folder without a manifest that can be read."""

    code = "NO-MANIFEST"
    exit_code = 18
    message = "{folder}: {what}."
    remedy = "Name the folder that dialtrue handover wrote, whole, with its manifest.json."
    example = {"folder": "to-billing", "what": "there is no manifest.json"}


class HandoverDamaged(DialtrueError):
    """Files that no longer are what the manifest says."""

    code = "HANDOVER-DAMAGED"
    exit_code = 18
    message = "{folder}: {count} of {files} files differ from the manifest: {which}."
    remedy = "Do not load it. Copy the folder again from where it was made, or make it anew."
    example = {"folder": "to-billing", "count": 1, "files": 9, "which": "reads.csv (other content)"}


class UnknownHandoverSetting(DialtrueError):
    """A name in the table [handover] that means nothing."""

    code = "UNKNOWN-HANDOVER-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "handover.least", "nearest": "handover.least_probability"}


class BadHandoverSetting(DialtrueError):
    """A setting of the handover that is of the wrong kind, or out of its range."""

    code = "BAD-HANDOVER-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {
        "file": "programme.toml",
        "key": "handover.least_probability",
        "value": "'high'",
        "expected": "a number from 0.5 to 1, without quotes",
    }
