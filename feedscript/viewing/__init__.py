"""The page on which a person looks at what a film showed: the court in it, and each ball.

Served by this machine to itself alone: pictures of people do not go over a network.
"""

__all__ = ["answers", "serve", "viewing"]
