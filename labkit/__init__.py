"""labkit: a formulation lab notebook toolkit."""
