"""What a stated probability is worth: monotone, a distribution, the order kept."""

from __future__ import annotations

import numpy as np
import pytest

from dialtrue.domain.faults import COLUMN, FAULTS
from dialtrue.engine.calibration import KNOTS, SUREST_FAULT, calibrate


def row(**shares: float) -> np.ndarray:
    out = np.zeros((1, len(FAULTS)))
    for code, share in shares.items():
        out[0, COLUMN[code]] = share
    return out


def test_the_map_rises_and_never_states_more_than_it_was_told() -> None:
    stated, worth = np.array(KNOTS).T
    assert (np.diff(stated) > 0).all()
    assert (np.diff(worth) > 0).all()
    assert (worth <= stated).all()


def test_rows_stay_distributions_with_the_same_order() -> None:
    random = np.random.default_rng(1)
    given = random.dirichlet(np.full(len(FAULTS), 0.1), 500)
    got = calibrate(given)
    np.testing.assert_allclose(got.sum(axis=1), 1.0, atol=1e-12)
    assert (np.argmax(got, axis=1) == np.argmax(given, axis=1)).all()
    assert (got.max(axis=1) <= given.max(axis=1) + 1e-12).all()


def test_what_is_taken_from_the_first_goes_to_the_others_in_proportion() -> None:
    got = calibrate(row(wet_counts=0.75, steady_counts=0.2, sound=0.05))[0]
    assert got[COLUMN["wet_counts"]] == pytest.approx(np.interp(0.75, *np.array(KNOTS).T))
    assert got[COLUMN["steady_counts"]] == pytest.approx(4 * got[COLUMN["sound"]])


def test_a_certain_fault_leaves_room_for_what_is_not_in_the_list_of_thoughts() -> None:
    got = calibrate(row(dead_input=1.0))[0]
    assert got[COLUMN["dead_input"]] == SUREST_FAULT
    assert got[COLUMN["sound"]] == pytest.approx(1 - SUREST_FAULT)


def test_a_port_that_counts_true_beyond_doubt_stays_so() -> None:
    assert calibrate(row(sound=1.0))[0, COLUMN["sound"]] == 1.0


def test_no_ports_no_map() -> None:
    assert not len(calibrate(np.zeros((0, len(FAULTS)))))
