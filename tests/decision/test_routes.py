"""Which routes are compared and looked at alone, and where a set of ratios may begin anew."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest

from stoichkit.decision.routes import Agreement, landmarks, route_pairs, ways_alone


def by(consumed: float, produced: float) -> Any:
    return SimpleNamespace(mean_consumed=consumed, mean_produced=produced)


def test_the_ratio_of_each_route_and_half_way_between_neighbours() -> None:
    assert landmarks([by(1.0, 4.0), by(2.0, 2.0), by(1.0, 2.0)]) == [1.0, 2.0, 4.0, 1.5, 3.0]
    assert landmarks([by(1.0, 2.0)]) == [2.0]
    # a route by which nothing was used up or made has no ratio
    assert landmarks([by(0.0, 2.0), by(1.0, 0.0), by(-1.0, 2.0), by(1.0, -1.0)]) == []
    assert landmarks([]) == []


def models(consumed: int, produced: int) -> Any:
    return tuple(
        SimpleNamespace(name=side, ways=[f"{side} {i}" for i in range(1, n + 1)])
        for side, n in (("a", consumed), ("b", produced))
    )


@pytest.mark.parametrize(("ways", "level"), [(2, 0.01), (3, 0.01 / 3), (4, 0.01 / 6)])
def test_one_chance_in_a_hundred_is_shared_by_all_pairs(ways: int, level: float) -> None:
    """Two routes make one pair, three make three, four make six."""
    found = list(route_pairs(models(1, ways)))
    assert len(found) == ways * (ways - 1) // 2
    assert {one.side for one in found} == {"produced"}
    assert [one.level for one in found] == pytest.approx([level] * len(found))
    assert found[0].routes == (1, 2)
    assert found[0].models == ("b 1", "b 2")
    assert found[-1].routes == (ways - 1, ways)
    assert list(route_pairs(models(1, 1))) == []
    assert [one.side for one in route_pairs(models(2, 2))] == ["consumed", "produced"]


def test_routes_that_disagree_are_looked_at_alone() -> None:
    given = models(2, 1)
    apart = Agreement("consumed", (1, 2), (1.0, 2.0), 0.001, agree=False)
    alike = Agreement("consumed", (1, 2), (1.0, 1.0), 0.5, agree=True)
    found = ways_alone(given, [apart])
    assert [which for _, which in found] == [(1, 0), (2, 0)]
    assert [pair for pair, _ in found] == [("a 1", given[1]), ("a 2", given[1])]
    assert ways_alone(given, [alike]) == []
    other = Agreement("produced", (1, 2), (1.0, 2.0), 0.001, agree=False)
    both = ways_alone(models(2, 2), [apart, other])
    assert [which for _, which in both] == [(1, 1), (1, 2), (2, 1), (2, 2)]
