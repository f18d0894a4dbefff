"""The club's launchers, from what all courts' lessons say of them: where each stands, how it is
tuned, what it does, and what to measure or mend next; and the pages for it."""

__all__ = ["sheets"]
