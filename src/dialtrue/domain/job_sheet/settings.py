"""What a programme says of its paper: size, whether accounts are printed, the grid of its labels."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from dialtrue.domain.job_sheet.label import SHIPPED_GRIDS, LabelGrid

PAPERS: Final = ("letter", "a4")


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperSettings:
    """``paper`` is ``letter`` or ``a4``; blank: a4 where the dials are metric. ``label_grid`` None: the shipped one.

    Accounts are not printed unless ``show_account`` asks for them: a sheet can be lost in a street.
    """

    paper: str = ""
    show_account: bool = False
    label_grid: LabelGrid | None = None

    def grid_for(self, paper: str) -> LabelGrid:
        """Return the labels' grid for a paper. Never raises for ``letter`` and ``a4``."""
        return self.label_grid or SHIPPED_GRIDS[paper]
