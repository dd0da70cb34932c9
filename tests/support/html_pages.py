"""A strict reading of a page: balanced tags, identities, references, and whatever would reach out or run."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser

VOID = {"meta", "br", "link", "img", "hr", "input", "wbr"}


@dataclass
class Page(HTMLParser):
    """What one HTML text holds. ``problems`` lists tags that do not balance."""

    source: str
    identities: list[str] = field(default_factory=list)
    references: list[str] = field(default_factory=list)
    tags: list[str] = field(default_factory=list)
    attributes: list[tuple[str, str, str]] = field(default_factory=list)
    problems: list[str] = field(default_factory=list)
    words: str = ""

    def __post_init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self._open: list[str] = []
        self.feed(self.source)
        self.close()
        self.problems += [f"<{tag}> never closed" for tag in self._open]

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._note(tag, attrs)
        if tag not in VOID:
            self._open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._note(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if not self._open or self._open[-1] != tag:
            self.problems.append(f"</{tag}> at line {self.getpos()[0]} closes {self._open[-1:]}")
        else:
            self._open.pop()

    def handle_data(self, data: str) -> None:
        if "style" not in self._open:
            self.words += data

    def _note(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append(tag)
        for name, value in attrs:
            self.attributes.append((tag, name, value or ""))
            if name == "id":
                self.identities.append(value or "")
            if name in ("aria-labelledby", "aria-describedby"):
                self.references += (value or "").split()
            if name == "href" and (value or "").startswith("#"):
                self.references.append((value or "")[1:])
