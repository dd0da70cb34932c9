"""The visit: how long it takes, what flow a draw has, which skills it asks for."""

from __future__ import annotations

from fractions import Fraction

from dialtrue.domain.hardware.endpoint import Endpoint
from dialtrue.domain.planning.settings import TAP_FLOW_LPM, VAULT_SIZES, PlanSettings
from dialtrue.domain.pulse_chain.timing import FlowLimits, flow_limits


def work_minutes(endpoint: Endpoint, settings: PlanSettings, *, mount: str, first: bool) -> float | None:
    """Return the work for one register, without the proof. [min]

    Parameters
    ----------
    endpoint, settings : Endpoint, PlanSettings
        The settings' minutes go before the sheet's.
    mount, first : str, bool
        Where it sits; whether the register is the first of its endpoint.

    Returns
    -------
    float or None
        None where neither names minutes for that mount.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption (the shipped sheets); override by ``plan.job_minutes`` or an own sheet.
    """
    if not first:
        return endpoint.port_minutes
    return settings.job_minutes.get(mount, endpoint.job_minutes.get(mount))


def tap_flow_lpm(size: FlowLimits | None, settings: PlanSettings, *, role: str = "single") -> Fraction:
    """Return the likely flow of a draw at a meter. [L/min, > 0]

    Parameters
    ----------
    size : FlowLimits or None
        Flow limits of the meter; None where its size is not known: taken as the smallest.
    settings : PlanSettings
        Its ``tap_flow_lpm`` goes first.
    role : str
        The low register of a compound meter is proved at one tap, whatever the size of the meter: more flow than that
        passes the high one.

    Returns
    -------
    Fraction
        Never above the greatest flow of the meter.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption (``settings.TAP_FLOW_LPM``); override by ``plan.tap_flow``.
    """
    if settings.tap_flow_lpm is not None:
        flow = settings.tap_flow_lpm
    elif size is None or role == "low":
        flow = TAP_FLOW_LPM["1in"]
    else:
        steps = ((flow_limits(name).max_flow_lpm, flow) for name, flow in TAP_FLOW_LPM.items() if name)
        flow = next((flow for most, flow in steps if size.max_flow_lpm <= most), TAP_FLOW_LPM[""])
    return flow if size is None else min(flow, size.max_flow_lpm)


def visit_skills(surveyed: str, settings: PlanSettings, *, mount: str, size: str, compound: bool) -> str:
    """Return the skills of a visit, separated by spaces: the survey's, then those of the mount.

    Parameters
    ----------
    surveyed : str
        The survey's ``skills``.
    settings : PlanSettings
        Skills by mount.
    mount, size, compound : str, str, bool
        A pit for a large or a compound meter is a vault.

    Returns
    -------
    str
        Each skill once.

    Raises
    ------
    Never raises.

    Source
    ------
    Our assumption (``settings.SKILLS``, ``settings.VAULT_SIZES``); override by ``plan.skills``.

    Examples
    --------
    >>> visit_skills("night", PlanSettings(), mount="pit", size="4in", compound=False)
    'night confined_space'
    """
    skills = [*surveyed.split(), *settings.skills.get(mount, ())]
    if mount == "pit" and (compound or size.replace(" ", "").lower() in {name.lower() for name in VAULT_SIZES}):
        skills += settings.skills.get("vault", ())
    return " ".join(dict.fromkeys(skills))
