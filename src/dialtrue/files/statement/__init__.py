"""The statement for one account, as a page and on paper."""
