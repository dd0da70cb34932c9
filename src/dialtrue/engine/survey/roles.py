"""Registers of compound meters: two rows, one high and one low."""

from __future__ import annotations

from dialtrue.engine.survey.sheet import Raised, Sheet, capital


def role_flags(sheet: Sheet, blocked: set[int]) -> list[Raised]:
    """Find compound meters with one row, one role twice, or a role that does not belong.

    Parameters
    ----------
    sheet : Sheet
        The sites.
    blocked : set of int
        Rows whose serial stands on several sites: which registers belong together is not known there.

    Returns
    -------
    list of Raised
        Never raises.

    Source
    ------
    Definition: a compound meter has a high and a low register.
    """
    meters: dict[tuple[str | None, str | None], list[int]] = {}
    for row, key in enumerate(zip(sheet.site, sheet.serial, strict=True)):
        if row not in blocked and key[1] is not None:
            meters.setdefault(key, []).append(row)
    raised = []
    for (_, serial), rows in meters.items():
        roles = [sheet.role[row] for row in rows]
        named = capital(sheet.called(rows[0]))
        compound = any(sheet.kind[row] == "compound" for row in rows)
        if not compound and roles == ["single"]:
            continue
        if sorted(roles) == ["high", "low"]:
            other = [sheet.kind[row] for row in rows if sheet.kind[row] not in ("compound", None)]
            if other:
                raised.append(
                    Raised(
                        "role", named.partition(" ")[2], "ask", rows, "meter_type",
                        f"{named}: meter {serial} has a high and a low register but is called {other[0]}.",
                        "Photograph the meter from above: is it a compound meter?",
                    ))  # fmt: skip
            continue
        if compound and roles == ["single"]:
            says = f"{named}: compound meter {serial} stands on one row; its second register is missing."
            ask = "Photograph both dials; give each register its row, high and low, with its own dial and pulse weight."
            raised.append(Raised("role", named.partition(" ")[2], "ask", rows, "register_role", says, ask))
        elif len(rows) == 1:
            missing = "low" if roles == ["high"] else "high"
            says = f"{named}: meter {serial} has a {roles[0]} register and no {missing} one."
            ask = f"Photograph both dials; add the row of the {missing} register."
            raised.append(Raised("role", named.partition(" ")[2], "ask", rows, "register_role", says, ask))
        else:
            twice = next((role for role in ("high", "low", "single") if roles.count(role) > 1), roles[0])
            says = f"{named}: meter {serial} has {len(rows)} rows, {roles.count(twice)} of them {twice}."
            if roles.count(twice) < 2:
                says = f"{named}: meter {serial} has {len(rows)} rows: {', '.join(roles)}."
            ask = "Photograph each dial with the plate: which is high, which is low, or are these two meters?"
            raised.append(Raised("role", named.partition(" ")[2], "block", rows, "register_role", says, ask))
    return raised
