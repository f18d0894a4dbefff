"""Orders definitions so that each comes after what it needs, and finds the circles."""

from __future__ import annotations

from collections.abc import Callable, Hashable, Iterable
from typing import TypeVar

K = TypeVar("K", bound=Hashable)


def ordered(nodes: Iterable[K], needs: Callable[[K], Iterable[K]]) -> tuple[list[K], list[list[K]]]:
    """Every node after the nodes it needs, and each circle once; linear, without recursion.

    A circle begins with the node that was met first and lists what each needs in turn.
    """
    done: set[K] = set()
    on_path: dict[K, None] = {}
    order: list[K] = []
    circles: list[list[K]] = []
    for root in nodes:
        if root in done:
            continue
        stack = [(root, iter(needs(root)))]
        on_path[root] = None
        while stack:
            node, rest = stack[-1]
            for need in rest:
                if need in on_path:
                    path = list(on_path)
                    circles.append(path[path.index(need) :])
                elif need not in done:
                    on_path[need] = None
                    stack.append((need, iter(needs(need))))
                    break
            else:
                stack.pop()
                del on_path[node]
                done.add(node)
                order.append(node)
    return order, circles
