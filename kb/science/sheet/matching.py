"""The cheapest way to join things of two kinds one to one, where each has few it may be joined with."""

from __future__ import annotations

import heapq
import math
from collections.abc import Mapping


def cheapest_pairs(costs: Mapping[int, Mapping[int, float]], alone: float) -> dict[int, int]:
    """Pairs (left, right) of least total cost, if a left one that stays alone costs ``alone``.

    ``costs`` holds by left the right ones it may be joined with. Shortest augmenting paths, one for each left
    one, with potentials that keep all reduced costs at zero or above (Edmonds and Karp 1972, J. ACM 19,
    248-264, doi:10.1145/321694.321699; from memory). Distances are local, so that a search stays small.
    """
    owner: dict[int, int] = {}
    mate: dict[int, int] = {}
    left_potential: dict[int, float] = dict.fromkeys(costs, 0.0)
    right_potential: dict[int, float] = {}
    for start in costs:
        # Cost of the best path that ends by leaving some left one alone, with the potential of that end.
        reached: dict[int, float] = {}
        came: dict[int, int] = {}
        final: dict[int, float] = {}
        left_at = {start: 0.0}
        best_alone, loner = alone - left_potential[start], start
        heap: list[tuple[float, int]] = []
        free = -1
        current, distance = start, 0.0
        while True:
            for right, cost in costs[current].items():
                length = distance + cost - left_potential[current] - right_potential.get(right, 0.0)
                if right not in final and length < reached.get(right, math.inf):
                    reached[right], came[right] = length, current
                    heapq.heappush(heap, (length, right))
            while heap and heap[0][1] in final:
                heapq.heappop(heap)
            if not heap or heap[0][0] >= best_alone:
                break
            distance, right = heapq.heappop(heap)
            final[right] = distance
            if right not in owner:
                free = right
                break
            current = owner[right]
            left_at[current] = distance
            if distance + alone - left_potential[current] < best_alone:
                best_alone, loner = distance + alone - left_potential[current], current
        end = distance if free >= 0 else best_alone
        for left, at in left_at.items():
            left_potential[left] += max(0.0, end - at)
        for right, at in final.items():
            right_potential[right] = right_potential.get(right, 0.0) - max(0.0, end - at)
        _turn(start, free, loner, came, owner, mate)
    return mate


def _turn(
    start: int, free: int, loner: int, came: Mapping[int, int], owner: dict[int, int], mate: dict[int, int]
) -> None:
    """Join along the path that was found, from its end back to where it began."""
    right = free
    if free < 0:
        if loner == start:
            return
        right = mate.pop(loner)
    while True:
        left = came[right]
        earlier = mate.get(left, -1)
        owner[right], mate[left] = left, right
        if left == start:
            return
        right = earlier
