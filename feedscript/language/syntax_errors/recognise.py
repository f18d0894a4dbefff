"""What a syntax error most likely is, and how the parser gets over it.

Each recogniser knows one kind of error: a function from the site of the error to a finding, or
None when it is not that kind. They are tried in order, the surest first.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

from feedscript.language.syntax_errors.error_site import ErrorSite, Finding
from feedscript.language.syntax_errors.marks import (
    closing_brace,
    end_of_text,
    item_in_block,
    nameless_block,
    odd_character,
)
from feedscript.language.syntax_errors.newcomers import NEWCOMERS
from feedscript.language.syntax_errors.omissions import (
    comma_at_end,
    missing_choice,
    missing_glue,
    missing_value,
    unexpected,
    unquoted,
    wait_for_whom,
)
from feedscript.language.syntax_errors.pasted import PASTED
from feedscript.language.syntax_errors.wrong_words import (
    bad_name,
    comma_between_lines,
    misspelt,
    misspelt_before,
    odd_word,
    unknown_unit,
)

_Recogniser: TypeAlias = Callable[[ErrorSite], Finding | None]
_RECOGNISERS: tuple[_Recogniser, ...] = (
    *PASTED,
    odd_character,
    item_in_block,
    end_of_text,
    closing_brace,
    nameless_block,
    unknown_unit,
    wait_for_whom,
    *NEWCOMERS,
    comma_at_end,
    unquoted,
    bad_name,
    misspelt_before,
    comma_between_lines,
    odd_word,
    misspelt,
    missing_choice,
    missing_value,
    missing_glue,
)


def recognise(site: ErrorSite) -> Finding:
    """What the error is."""
    for recogniser in _RECOGNISERS:
        finding = recogniser(site)
        if finding is not None:
            return finding
    return unexpected(site)
