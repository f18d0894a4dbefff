"""The program as the plan takes it: every name resolved, every value in the internal unit.

``language`` builds this and knows nothing of flight; ``plan`` aims it. Places are metres in court
axes (origin under the middle of the net, x to the receiver's ad side, y towards the receiver).
Patterns are inlined with their arguments evaluated; ``repeat`` is not unrolled. Every node keeps
the ``span`` that it was written at, and a step that came out of a pattern keeps the calls that led
there (``calls``, outermost first), so that a message can show both places.
"""

from __future__ import annotations

from feedscript.language.program.declared import *
from feedscript.language.program.expectations import *
from feedscript.language.program.feeds import *
from feedscript.language.program.goals import *
from feedscript.language.program.program import *
from feedscript.language.program.recorded import *
from feedscript.language.program.season import *
from feedscript.language.program.statements import *
