"""A whole lesson on the simulated launcher."""
