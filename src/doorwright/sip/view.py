"""A property that is worked out when it is first asked for, and known from then on."""

from collections.abc import Callable
from typing import Any, Generic, Self, TypeVar, overload

Read = TypeVar("Read")


class View(Generic[Read]):
    """What `functools.cached_property` does, without the lock that takes longer in Python 3.11 than most readings here.

    Two threads may both work it out; values that never change give the same twice.
    """

    def __init__(self, read: Callable[[Any], Read]) -> None:
        self._read = read
        self.__doc__ = read.__doc__

    def __set_name__(self, owner: type, name: str) -> None:
        self._name = name

    @overload
    def __get__(self, one: None, owner: type) -> Self: ...

    @overload
    def __get__(self, one: object, owner: type) -> Read: ...

    def __get__(self, one: object | None, owner: type) -> Self | Read:
        if one is None:
            return self
        read = one.__dict__[self._name] = self._read(one)  # found there from now on, before this is asked
        return read
