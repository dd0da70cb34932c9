"""The pages are true: generated ones fresh, links whole, commands and options real, examples run."""

from __future__ import annotations

import doctest
import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import typer

from dialtrue.interfaces.cli import app
from tools import generate_reference

ROOT = Path(__file__).resolve().parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *ROOT.glob("docs/**/*.md")])
BLOCK = re.compile(r"^[ ]*```(\w*)\n(.*?)^[ ]*```", re.MULTILINE | re.DOTALL)
GROUP: Any = typer.main.get_command(app)


def blocks(path: Path, *languages: str) -> list[str]:
    """Return the code blocks of a page in the given languages."""
    return [body for language, body in BLOCK.findall(path.read_text(encoding="utf-8")) if language in languages]


def command_lines(path: Path) -> list[list[str]]:
    """Return the dialtrue command lines that a page shows, in blocks and in running text, without the program."""
    text = path.read_text(encoding="utf-8")
    shown = [line for block in blocks(path, "sh") for line in block.splitlines()]
    shown += re.findall(r"`(dialtrue [^`\n]+)`", text)
    found = []
    for line in shown:
        words = shlex.split(line, comments=True)
        if words and words[0].split("/")[-1] == "dialtrue":
            found.append(words[1:])
    return found


@pytest.mark.parametrize("name", sorted(generate_reference.PAGES))
def test_generated_page_is_fresh(name: str) -> None:
    standing = (ROOT / "docs" / "reference" / name).read_text(encoding="utf-8")
    assert standing == generate_reference.page(name), "run `make docs`"
    assert standing.startswith("<!-- Generated")


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_links_lead_somewhere(path: Path) -> None:
    text = re.sub(r"```.*?```", "", path.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text):
        assert (path.parent / target).exists(), f"{path.name} links to {target}"


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_shown_commands_and_options_exist(path: Path) -> None:
    for words in command_lines(path):
        if not words or words[0].startswith("-"):
            continue
        assert words[0] in GROUP.commands, f"{path.name} shows dialtrue {words[0]}"
        known = {name for parameter in GROUP.commands[words[0]].params for name in parameter.opts} | {
            "--help",
            "--debug",
        }
        assert {word.split("=")[0] for word in words if word.startswith("--")} <= known


@pytest.mark.parametrize("command", sorted(GROUP.commands))
def test_each_command_stands_in_a_how_to_or_the_tutorial(command: str) -> None:
    pages = [*ROOT.glob("docs/how-to/*.md"), *ROOT.glob("docs/tutorial/*.md")]
    assert any(words[:1] == [command] for path in pages for words in command_lines(path))


@pytest.mark.parametrize("command", sorted(GROUP.commands))
def test_help_begins_with_a_short_imperative_and_an_example(command: str) -> None:
    first, *rest = (GROUP.commands[command].help or "").strip().splitlines()
    assert len(first) <= 60
    assert any(line.strip().startswith("Example: dialtrue") for line in rest)
    assert all(getattr(parameter, "help", None) for parameter in GROUP.commands[command].params)


def test_make_targets_that_pages_show_exist() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE))
    shown = {
        name
        for path in PAGES
        for block in blocks(path, "sh")
        for name in re.findall(r"^make ([a-z]+)", block, re.MULTILINE)
    }
    assert {"demo", "test"} <= shown <= targets


@pytest.mark.parametrize("path", PAGES, ids=lambda path: str(path.relative_to(ROOT)))
def test_python_examples_run(path: Path) -> None:
    outcome = doctest.testfile(str(path), module_relative=False)
    assert outcome.failed == 0
    for block in blocks(path, "python"):
        if ">>>" not in block:
            exec(compile(block, str(path), "exec"), {})


def test_how_tos_say_what_is_needed_and_how_to_tell_it_worked() -> None:
    for path in ROOT.glob("docs/how-to/*.md"):
        text = path.read_text(encoding="utf-8")
        assert re.search(r"^(\*\*)?You need\b", text, re.MULTILINE), path.name
        assert re.search(r"^(\*\*It worked if\b|## How to tell it worked)", text, re.MULTILINE), path.name


def test_each_explanation_names_its_limits() -> None:
    for path in ROOT.glob("docs/explanation/*.md"):
        assert re.search(r"^## (Limits|What .* cannot)", path.read_text(encoding="utf-8"), re.MULTILINE), path.name


def test_readme_opens_with_the_job_then_the_two_commands_then_a_picture() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    assert text.index("true to the dial") < text.index("make demo") < text.index("make test") < text.index("![")
