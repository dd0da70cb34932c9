"""Cautions: every mount gets its own, all get what holds everywhere, each says where it comes from."""

from pathlib import Path

import pytest

from dialtrue.domain.cautions import CAUTIONS, cautions_for
from dialtrue.domain.contracts import MOUNTS
from tools.check_sources import known_keys

EVERYWHERE = {"Metal pipe", "Valves", "Lithium cells", "Radio", "Drinking water"}
SOURCES = Path(__file__).resolve().parents[3] / "docs" / "reference" / "sources.md"


def topics(mount: str | None, **more: tuple[str, ...]) -> set[str]:
    return {caution.topic for caution in cautions_for(mount, **more)}


@pytest.mark.parametrize(
    ("mount", "own"),
    [
        ("pit", {"Confined space", "Head down", "Lid and pit", "Traffic"}),
        ("pole", {"Ladder", "Overhead lines", "Traffic"}),
        ("wall", {"Mains nearby", "Ladder"}),
        ("indoor", {"Mains nearby", "Asbestos and lead"}),
    ],
)
def test_each_mount_gets_its_own_cautions_and_those_of_everywhere(mount: str, own: set[str]) -> None:
    assert topics(mount) == own | EVERYWHERE


@pytest.mark.parametrize("mount", [None, "", "roof"])
def test_a_place_that_is_not_known_gets_the_cautions_of_every_mount(mount: str | None) -> None:
    assert topics(mount) == set.union(*(topics(known) for known in MOUNTS))


def test_a_task_adds_its_caution() -> None:
    assert "Digging" in topics("pit", tasks=("dig",))
    assert "Digging" not in topics("pit")


def test_every_caution_is_short_and_cites_a_kept_source() -> None:
    keys = known_keys(SOURCES.read_text(encoding="utf-8"))
    for caution in CAUTIONS:
        assert caution.source in keys
        assert len(caution.says) <= 190


def test_air_is_tested_for_oxygen_first_then_flammable_then_toxic() -> None:
    says = next(caution.says for caution in CAUTIONS if caution.topic == "Confined space")
    assert says.index("oxygen 19.5 to 23.5 %") < says.index("flammable gas under 10 %") < says.index("toxic")
