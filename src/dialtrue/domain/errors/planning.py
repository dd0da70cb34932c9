"""Errors of the planning: ports that are missing, taken twice or exchanged; settings of [plan] that mean nothing."""

from __future__ import annotations

from dialtrue.domain.errors.base import DialtrueError


class PortMissing(DialtrueError):
    """A register that has no port in a plan."""

    code = "PORT-MISSING"
    exit_code = 29
    message = "{place}: {what}."
    remedy = "Give every register a port of its own; a compound meter takes two ports of one endpoint."
    example = {"place": "site S12, meter 4410023", "what": "compound: second register has no port"}


class PortTaken(DialtrueError):
    """A port that a plan gives to two registers."""

    code = "PORT-TAKEN"
    exit_code = 29
    message = "{place}: port {port} of endpoint {endpoint} is planned for {count} registers."
    remedy = "Give each of them a port of its own."
    example = {"place": "site S12", "port": 1, "endpoint": 1, "count": 2}


class PortsExchanged(DialtrueError):
    """A compound meter whose registers are not on the ports that the rule gives them."""

    code = "PORTS-EXCHANGED"
    exit_code = 29
    message = "{place}: {what}."
    remedy = "Plan the high register on port 1 and the low one on port 2 of the same endpoint."
    example = {"place": "site S12, meter 4410023", "what": "compound: the high register is planned on port 2"}


class UnknownPlanSetting(DialtrueError):
    """A name in the table [plan] that means nothing."""

    code = "UNKNOWN-PLAN-SETTING"
    exit_code = 19
    message = "{file}: there is no setting {key}."
    remedy = "The nearest names are {nearest}."
    example = {"file": "programme.toml", "key": "plan.biling", "nearest": "plan.billing"}


class BadPlanSetting(DialtrueError):
    """A setting of the plan that is out of its range, or not in its form."""

    code = "BAD-PLAN-SETTING"
    exit_code = 19
    message = "{file}: {key} is {value}."
    remedy = "Write {expected}."
    example = {
        "file": "programme.toml",
        "key": "plan.follow_up_days",
        "value": "60",
        "expected": "a number of 25 to 45",
    }
