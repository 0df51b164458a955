"""Pure numbers: one module a phenomenon, numpy arrays in and out, units in the names."""
