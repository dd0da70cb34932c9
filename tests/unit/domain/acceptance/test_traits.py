"""What bad sites have in common is told where it says something."""

from __future__ import annotations

from dialtrue.domain.acceptance.traits import in_common


def sites(*days: str) -> list[tuple[tuple[str, str], ...]]:
    return [(("day", day), ("crew", "A")) for day in days]


def test_what_most_sites_share_is_not_told() -> None:
    everyone = sites("Mon", "Tue", "Tue", "Wed", "Thu")
    assert in_common(everyone[1:3], everyone) == ("All 2 bad sites have the day Tue, as 2 of 5 inspected have.",)


def test_one_bad_site_or_unlike_ones_share_nothing() -> None:
    everyone = sites("Mon", "Tue", "Tue", "Wed", "Thu")
    assert in_common(everyone[:1], everyone) == ()
    assert in_common(everyone[:2], everyone) == ()
    assert in_common([], everyone) == ()


def test_a_blank_is_nothing_in_common() -> None:
    everyone = sites("", "", "Wed", "Thu", "Fri")
    assert in_common(everyone[:2], everyone) == ()
