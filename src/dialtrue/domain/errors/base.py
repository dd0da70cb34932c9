"""The base of every error: which thing, what is wrong, what to do next, which code."""

from __future__ import annotations

from typing import Any, ClassVar


class DialtrueError(Exception):
    """Base of all errors that dialtrue raises on purpose."""

    code: ClassVar[str] = ""
    exit_code: ClassVar[int] = 2
    message: ClassVar[str] = ""
    remedy: ClassVar[str] = ""
    example: ClassVar[dict[str, Any]] = {}

    def __init__(self, **facts: Any) -> None:
        self.facts = facts
        super().__init__(self.rendered())

    def rendered(self) -> str:
        """Return the one-line form: message, remedy, code in brackets."""
        return f"{self.message.format(**self.facts)} {self.remedy.format(**self.facts)} [{self.code}]"

    def as_dict(self) -> dict[str, Any]:
        """Return the JSON form shared by every interface."""
        return {
            "code": self.code,
            "message": self.message.format(**self.facts),
            "remedy": self.remedy.format(**self.facts),
            "facts": {key: str(value) for key, value in self.facts.items()},
            "status": self.exit_code,
        }


def catalogue() -> list[type[DialtrueError]]:
    """Return every error class that carries a code, ordered by exit code then code."""
    found: list[type[DialtrueError]] = []
    stack: list[type[DialtrueError]] = [DialtrueError]
    while stack:
        kind = stack.pop()
        stack.extend(kind.__subclasses__())
        if kind.code:
            found.append(kind)
    return sorted(found, key=lambda kind: (kind.exit_code, kind.code))
