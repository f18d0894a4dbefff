"""Where in a film a lesson's balls are: the film's time against the journal's."""

__all__: list[str] = []
