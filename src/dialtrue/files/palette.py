"""The colours of every picture: a role each, for light and for dark paper."""

from __future__ import annotations

from typing import Final

LIGHT: Final = {
    "paper": "#fbfaf7", "ink": "#1b1f23", "rule": "#d9d5cc", "water": "#1f5f7a", "look": "#9a5b00", "visit": "#a3232b",
    "good": "#2d6a3e",
}  # fmt: skip
DARK: Final = {
    "paper": "#16191c", "ink": "#e9e6df", "rule": "#4a4f55", "water": "#8cc8e0", "look": "#f0b45a", "visit": "#ff9c9c",
    "good": "#8fce9f",
}  # fmt: skip
"""On dark paper text keeps at least seven to one against it."""


def roles_for(css_class: str) -> str:
    """Return style rules that give a picture the roles as ``--dt-…`` properties.

    A page that names a role itself (``--ink``) overrides it; dark paper follows what the reader's system prefers.
    Never raises.

    Source
    ------
    Our own look: colour is rare and means something.
    """

    def rules(colours: dict[str, str]) -> str:
        return " ".join(f"--dt-{role}: var(--{role}, {colour});" for role, colour in colours.items())

    return (
        f".{css_class} {{ {rules(LIGHT)} }}\n"
        f"@media (prefers-color-scheme: dark) {{ .{css_class} {{ {rules(DARK)} }} }}\n"
    )
