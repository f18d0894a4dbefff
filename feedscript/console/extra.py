"""What the court-side page needs beyond feedscript itself."""

from __future__ import annotations

from importlib.util import find_spec

from feedscript.diagnostics import Diagnostic, Page

NO_CONSOLE = Page(
    slug="needs-console",
    title="The court-side page needs the extra `console`",
    why=(
        "The page is served by libraries that not everybody wants to install; they come with the "
        "extra `console`. `feedscript run` shows the same lesson on the terminal without them."
    ),
)

_NEEDED = ("starlette", "uvicorn", "websockets", "segno")


def what_is_missing() -> Diagnostic | None:
    """Which libraries are not installed, if any."""
    missing = [name for name in _NEEDED if find_spec(name) is None]
    if not missing:
        return None
    return NO_CONSOLE.report(
        f"the page needs {', '.join(missing)}, which {'is' if len(missing) == 1 else 'are'} not "
        "installed",
        help="pip install 'feedscript[console]', or run the lesson from the terminal with "
        "`feedscript run`",
    )
