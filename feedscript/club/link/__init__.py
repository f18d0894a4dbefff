"""A court's side of its club: it joins, sends what happened, is caught up with, and can be stopped.

Nothing here touches a lesson but a stop. A club that cannot be reached is said to be so, and what
is to be sent waits in the journal.
"""

__all__ = ["beside", "catch_up", "door", "fetch", "forgetting", "membership"]
