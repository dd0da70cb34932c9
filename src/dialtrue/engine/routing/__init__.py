"""Day routes over arrays: driving times, the search, the order by nearness, the least driving possible."""
