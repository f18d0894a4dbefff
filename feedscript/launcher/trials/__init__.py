"""Named faults as data, and what a simulated launcher saw of a lesson with one."""

__all__ = ["far_end", "meaning", "trial"]
