"""The desk: a lesson written and seen in a browser, words and picture as one."""

__all__ = ["app", "files", "page", "program_routes", "serve", "suggestions"]
