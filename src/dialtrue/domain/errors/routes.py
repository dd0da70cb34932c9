"""Errors of the day routes."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class BadRouteDay(DialtrueError):
    """The first day of the routes is no day."""

    code = "BAD-ROUTE-DAY"
    exit_code = 2
    message = "--day {text!r} is no day."
    remedy = "Write a day such as 2026-05-04."
    example = {"text": "4 May"}


class UnknownCrew(DialtrueError):
    """A crew was named that the table crews does not hold."""

    code = "UNKNOWN-CREW"
    exit_code = 2
    message = "--crew {crew}: there is no such crew."
    remedy = "The crews are {crews}."
    example = {"crew": "Nroth", "crews": "North, South"}


class NoCrew(DialtrueError):
    """No row of the table crews can be used."""

    code = "NO-CREW"
    exit_code = 13
    message = "{file}: no crew can go out. {why}"
    remedy = "Give one crew a shift that ends after it begins; or take the file away to plan with one crew."
    example = {"file": "crews.csv", "why": "Crew North: the shift ends (07:00) before it begins (16:00)."}


class NothingToRoute(DialtrueError):
    """No visit is left to plan."""

    code = "NOTHING-TO-ROUTE"
    exit_code = 14
    message = "{folder}: there is nothing to route. {why}"
    remedy = "{how}"
    example = {
        "folder": "my-programme",
        "why": "All 60 sites have their endpoints already.",
        "how": "Add --all to plan them nevertheless.",
    }


class DistancesOfNowhere(DialtrueError):
    """The distance table and the programme name no place in common."""

    code = "DISTANCES-OF-NOWHERE"
    exit_code = 13
    message = "{file}: of its {rows} rows none joins two places of this programme; it names such as {seen}."
    remedy = "Write sites as in the sites table and depots as depot:CREW, or take the file away."
    example = {"file": "distances.csv", "rows": 12, "seen": "node-17 and node-18"}


class UnknownRouteSetting(DialtrueError):
    """A name in the table [routes] that means nothing."""

    code = "UNKNOWN-ROUTE-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "routes.mean_sped_kmh", "nearest": "routes.mean_speed_kmh"}


class BadRouteSetting(DialtrueError):
    """A setting of the routes in no form or range that can be used."""

    code = "BAD-ROUTE-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {
        "file": "programme.toml",
        "key": "routes.detour_factor",
        "value": "0.5",
        "expected": "a number from 1 to 5, without quotes",
    }
