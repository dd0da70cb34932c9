"""The job sheet and the labels as data: every word that is printed, and no layout."""
