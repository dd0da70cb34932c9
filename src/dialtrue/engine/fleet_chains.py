"""Many pulse chains as columns: sheets by place, sites by row."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from dialtrue.domain.pulse_chain.cable import NOT_KNOWN_CABLE, Cable
from dialtrue.domain.pulse_chain.chain import Chain, FitSettings
from dialtrue.domain.pulse_chain.input import NOT_KNOWN_INPUT, Input
from dialtrue.domain.pulse_chain.output import NOT_KNOWN_OUTPUT, Output
from dialtrue.domain.pulse_chain.timing import figure

Floats = npt.NDArray[np.float64]
Places = npt.NDArray[np.intp]
Flags = npt.NDArray[np.bool_]

SITE_COLUMNS = (
    "length_m", "weight_l", "max_flow_lpm", "q3_lpm", "leakage_ohm", "use_l_per_day", "resolution_l", "billing_l",
    "index_capacity_l",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FleetChains:
    """Chains as arrays. A place of -1 is a sheet that is not known; NaN in a column is a figure that is not known.

    ``columns`` holds each of ``SITE_COLUMNS``, float64, shape (n,), in the unit of its name.
    """

    outputs: tuple[Output, ...]
    inputs: tuple[Input, ...]
    cables: tuple[Cable, ...]
    output_at: Places
    input_at: Places
    cable_at: Places
    columns: dict[str, Floats]
    both_contacts: Flags
    settings: FitSettings = field(default_factory=FitSettings)

    def __len__(self) -> int:
        return len(self.output_at)

    def rows(self, start: int, stop: int) -> FleetChains:
        """Return the chains of some rows; the sheets are shared."""
        part = slice(start, stop)
        return FleetChains(
            self.outputs,
            self.inputs,
            self.cables,
            self.output_at[part],
            self.input_at[part],
            self.cable_at[part],
            {name: column[part] for name, column in self.columns.items()},
            self.both_contacts[part],
            self.settings,
        )

    def of_output(self, take: Callable[[Output], Any], kind: Any = np.float64) -> npt.NDArray[Any]:
        """Return a figure of each row's output."""
        return np.array([take(sheet) for sheet in (*self.outputs, NOT_KNOWN_OUTPUT)], dtype=kind)[self.output_at]

    def of_input(self, take: Callable[[Input], Any], kind: Any = np.float64) -> npt.NDArray[Any]:
        """Return a figure of each row's input."""
        return np.array([take(sheet) for sheet in (*self.inputs, NOT_KNOWN_INPUT)], dtype=kind)[self.input_at]

    def of_cable(self, take: Callable[[Cable], Any], kind: Any = np.float64) -> npt.NDArray[Any]:
        """Return a figure of each row's cable."""
        return np.array([take(sheet) for sheet in (*self.cables, NOT_KNOWN_CABLE)], dtype=kind)[self.cable_at]


def fleet_of(chains: Sequence[Chain]) -> FleetChains:
    """Lay chains out as columns; all must share their settings.

    Parameters
    ----------
    chains : sequence of Chain
        At least one.

    Returns
    -------
    FleetChains
        Row i is chain i.

    Raises
    ------
    ValueError
        Settings differ.

    Source
    ------
    Definition.
    """
    settings = chains[0].settings
    if any(chain.settings != settings for chain in chains):
        raise ValueError("chains of one fleet share their settings")
    outputs = tuple(dict.fromkeys(chain.output for chain in chains if chain.output.key))
    inputs = tuple(dict.fromkeys(chain.input for chain in chains if chain.input.key))
    cables = tuple(dict.fromkeys(chain.cable for chain in chains if chain.cable.key))
    place_o = {sheet: place for place, sheet in enumerate(outputs)}
    place_i = {sheet: place for place, sheet in enumerate(inputs)}
    place_c = {sheet: place for place, sheet in enumerate(cables)}
    columns = {
        name: np.array([figure(getattr(chain, name)) for chain in chains], dtype=np.float64) for name in SITE_COLUMNS
    }
    return FleetChains(
        outputs,
        inputs,
        cables,
        np.array([place_o.get(chain.output, -1) for chain in chains], dtype=np.intp),
        np.array([place_i.get(chain.input, -1) for chain in chains], dtype=np.intp),
        np.array([place_c.get(chain.cable, -1) for chain in chains], dtype=np.intp),
        columns,
        np.array([chain.wiring == "both_contacts" for chain in chains], dtype=np.bool_),
        settings,
    )
