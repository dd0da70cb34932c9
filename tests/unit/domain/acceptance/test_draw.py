"""The draw: repeatable, auditable by hand, fair among strata."""

from __future__ import annotations

import hashlib
import subprocess

from dialtrue.domain.acceptance.draw import LotSite, draw, fingerprint, order_key

LOT = [LotSite(f"S{number:03}", f"{'AB'[number % 2]}, disc", whole=number in (5, 6)) for number in range(100)]


def picked(seed: str, size: int = 20, lot: str = "lot 7") -> list[str]:
    return [each.site for each in draw(LOT, seed=seed, lot=lot, size=size) if each.part == "sample"]


def test_the_same_seed_gives_the_same_sample_in_any_order() -> None:
    again = draw(reversed(LOT), seed="heron", lot="lot 7", size=20)
    assert draw(LOT, seed="heron", lot="lot 7", size=20) == again


def test_another_seed_or_another_lot_gives_another_sample() -> None:
    assert picked("heron") != picked("egret")
    assert picked("heron") != picked("heron", lot="lot 8")


def test_the_order_can_be_made_with_another_tool() -> None:
    told = subprocess.run(["sha256sum"], input=b"heron|lot 7|S001", capture_output=True, check=True).stdout.split()[0]
    assert order_key("heron", "lot 7", "S001") == told.decode()
    drawn = draw(LOT, seed="heron", lot="lot 7", size=20)
    for stratum in ("A, disc", "B, disc"):
        mine = [each for each in drawn if each.stratum == stratum and each.part == "sample"]
        ordered = sorted(
            (site.site for site in LOT if site.stratum == stratum and not site.whole),
            key=lambda site: hashlib.sha256(f"heron|lot 7|{site}".encode()).hexdigest(),
        )
        assert [each.site for each in mine] == ordered[: len(mine)]


def test_sites_inspected_whole_are_not_in_the_sample() -> None:
    drawn = draw(LOT, seed="heron", lot="lot 7", size=98)
    assert {each.site for each in drawn if each.part == "whole"} == {"S005", "S006"}
    assert sum(each.part == "sample" for each in drawn) == 98
    assert not any(each.part == "reserve" for each in drawn)


def test_each_stratum_has_its_share() -> None:
    strata = [each.stratum for each in draw(LOT, seed="heron", lot="lot 7", size=20) if each.part == "sample"]
    assert {strata.count("A, disc"), strata.count("B, disc")} <= {9, 10, 11}


def test_positions_follow_the_keys_in_each_part() -> None:
    drawn = [each for each in draw(LOT, seed="heron", lot="lot 7", size=20) if each.part == "reserve"]
    assert [each.position for each in drawn] == list(range(1, 79))
    assert [each.key for each in drawn] == sorted(each.key for each in drawn)


def test_the_fingerprint_tells_any_change() -> None:
    print_ = fingerprint(LOT)
    assert print_ == fingerprint(reversed(LOT))
    assert print_ != fingerprint(LOT[1:])
    assert print_ != fingerprint([*LOT[1:], LotSite("S000", "C, disc")])
    assert print_ != fingerprint([*LOT[1:], LotSite("S000", LOT[0].stratum, whole=True)])


def test_an_empty_lot_draws_nothing() -> None:
    assert draw([], seed="heron", lot="lot 7", size=20) == []
