"""A whole lesson on the simulated launcher."""

__all__ = ["late", "rehearse", "said", "tried"]
