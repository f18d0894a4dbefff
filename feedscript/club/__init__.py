"""Many courts, one history: what a club's server keeps, and what courts send it.

Nothing here is imported, or needs to be installed, on a court that belongs to no club.
"""

__all__ = ["batch", "demo", "desks", "handed", "messages", "refusals", "tombstones"]
