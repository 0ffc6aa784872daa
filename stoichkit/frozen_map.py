"""A small read-only mapping that keeps its order, can be a dictionary key and can be pickled."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TypeVar

__all__ = ["FrozenMap"]

K = TypeVar("K")
V = TypeVar("V")


class FrozenMap(Mapping[K, V]):
    """A read-only mapping, equal to any mapping with the same items.

    Parameters
    ----------
    items : mapping or iterable of (key, value)
        Copied; later changes to it do not show here.

    Examples
    --------
    >>> tare = FrozenMap({"beaker": "50.12"})
    >>> tare["beaker"], len(tare), tare == {"beaker": "50.12"}
    ('50.12', 1, True)
    >>> tare["beaker"] = "0"
    Traceback (most recent call last):
    TypeError: 'FrozenMap' object does not support item assignment
    """

    __slots__ = ("_items",)
    _items: dict[K, V]

    def __init__(self, items: Mapping[K, V] | Iterable[tuple[K, V]] = ()) -> None:
        self._items = dict(items)

    def __getitem__(self, key: K) -> V:
        return self._items[key]

    def __iter__(self) -> Iterator[K]:
        return iter(self._items)

    def __len__(self) -> int:
        return len(self._items)

    def __hash__(self) -> int:
        return hash(frozenset(self._items.items()))

    def __repr__(self) -> str:
        return f"FrozenMap({self._items!r})"
