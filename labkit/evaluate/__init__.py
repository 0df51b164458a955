"""A formula and its materials turned into arrays for the science, one or a million at once."""
