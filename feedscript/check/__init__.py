"""Program in, verdict out; and the verdict as text, JSON and HTML."""

__all__ = [
    "as_json",
    "as_text",
    "bootstrap",
    "catalogue",
    "certificate_file",
    "certificate_text",
    "check_program",
    "expected",
    "hour",
    "hour_left",
    "on_launchers",
    "sample",
    "season",
    "season_text",
    "testing",
    "tuning_lesson",
]
