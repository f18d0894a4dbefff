"""Every page of the reference that is made from the code, by its name on the site."""

from __future__ import annotations

from commands import commands_page
from messages import messages_page
from python_interface import python_page
from rules import rules_page


def made_pages() -> dict[str, str]:
    """Pages as Markdown."""
    made = {
        "diagnostics": messages_page(),
        "rules": rules_page(),
        "commands": commands_page(),
        "python": python_page(),
    }
    return {f"shared/guide/reference/{name}.md": text for name, text in made.items()}
