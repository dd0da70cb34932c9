"""How many crew-days a set of visits asks for at least, by the time that jobs and driving take."""

from __future__ import annotations

import numpy as np


class CrewNeed:
    """Counts crew-days for sets of visits, from below.

    A crew-day that makes any visit of a set S drives at least from a depot to the nearest of S, and at the end from the
    nearest of S home; every other visit of S is entered by some drive, at least the cheapest that ends there. So k
    crew-days that make all of S spend at least jobs(S) + entries - k largest + k (way out + way home), where entries
    sums the cheapest of each visit and largest is the greatest of those; and all they have is the time of the k longest
    days. The least k that holds is the need. A way out may lead over other places: it is the shortest path, so that the
    count holds for any table of drives.
    """

    def __init__(
        self,
        cost: np.ndarray,
        most: int,
        *,
        jobs_s: np.ndarray,
        usable_s: np.ndarray | None = None,
        most_stops: np.ndarray | None = None,
        endpoints: np.ndarray | None = None,
        most_endpoints: np.ndarray | None = None,
    ) -> None:
        """Take the drives (place 0 the depot), what each visit takes, what each crew-day has."""
        # Imported here: slow to import, and only routes need it.
        from scipy.sparse.csgraph import dijkstra

        # The library takes a zero for "no road"; a nanosecond does not matter where a millisecond is taken off below.
        roads = np.maximum(cost, 1e-9)
        self.out_s = np.maximum(0.0, dijkstra(roads, indices=0) - 1e-3)
        self.home_s = np.maximum(0.0, dijkstra(roads.T, indices=0) - 1e-3)
        entries = cost.copy()
        np.fill_diagonal(entries, np.inf)
        self.entry_s = entries.min(axis=0)
        self.jobs_s = np.concatenate([[0.0], jobs_s])
        self.most = most
        count = np.arange(1, most + 1, dtype=np.float64)
        self._count = count
        self._room = self._longest(usable_s, most)
        self._stops = self._longest(most_stops, most)
        self._aboard = self._longest(most_endpoints, most)
        carried = np.zeros(len(jobs_s)) if endpoints is None else endpoints
        self.endpoints = np.concatenate([[0.0], carried])

    @staticmethod
    def _longest(each: np.ndarray | None, most: int) -> np.ndarray:
        """Return the sum of the k largest, for k from 1."""
        if each is None:
            return np.full(most, np.inf)
        return np.cumsum(np.sort(np.asarray(each, dtype=np.float64))[::-1])[:most]

    def of(
        self,
        jobs_s: float,
        visits: int,
        endpoints: float,
        entries_s: float,
        largest_entry_s: float,
        out_s: float,
        home_s: float,
    ) -> int:
        """Return the need of a set from its sums and least values; at most ``most``. Never raises."""
        spent = jobs_s + entries_s + self._count * (out_s + home_s - largest_entry_s)
        # With more crew-days than visits every visit is the first of its day; the sum of entries is then not counted.
        spent = np.maximum(spent, jobs_s)
        enough = (spent <= self._room + 1e-6) & (visits <= self._stops) & (endpoints <= self._aboard)
        return int(np.argmax(enough)) + 1 if enough.any() else self.most

    def of_all(self) -> int:
        """Return the need of all visits together. Never raises."""
        return self.of(
            float(self.jobs_s.sum()), len(self.jobs_s) - 1, float(self.endpoints.sum()),
            float(self.entry_s[1:].sum()), float(self.entry_s[1:].max()), float(self.out_s[1:].min()),
            float(self.home_s[1:].min()),
        )  # fmt: skip
