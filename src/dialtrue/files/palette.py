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

WIRES: Final = {
    "black": "#1b1f23", "brown": "#7a4a21", "red": "#c8202c", "orange": "#e8801a", "yellow": "#f2d21b",
    "green": "#2b8a3e", "blue": "#1d5fa8", "violet": "#6b3fa0", "grey": "#8a8f94", "white": "#ffffff",
    "pink": "#f0a3b8", "turquoise": "#2bb5b0", "clear": "#edf1f1", "tan": "#c9a878",
}  # fmt: skip
"""Insulation of wires, drawn on white in any light: on other paper a colour would look like another one."""


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
