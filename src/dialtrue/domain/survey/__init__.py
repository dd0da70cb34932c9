"""The survey put right: what may be wrong with a sites table, what is asked, what a person decided."""
