"""A record is what the standard library's frozen dataclass with slots is, for all that anybody can see."""

from __future__ import annotations

import copy
import pickle
from dataclasses import FrozenInstanceError, dataclass, field, fields, is_dataclass, replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scanloom.basis.record import record


class Shape:
    """What both are made of."""

    first: int
    second: tuple[int, ...] = ()
    third: list[int] = field(default_factory=list)


def made(how: Any) -> Any:
    """The same class by one road or the other."""
    body = {"__annotations__": dict(Shape.__annotations__), "second": (), "third": field(default_factory=list)}
    return how(type("Made", (), {**body, "__module__": __name__, "__qualname__": "Made"}))


@record
class Kept:
    """At the top of a module, so that it can be pickled."""

    name: str
    amount: float = 0.5

    def __post_init__(self) -> None:
        if self.amount < 0.0:
            raise ValueError("below zero")


Ours, Theirs = made(record), made(dataclass(frozen=True, slots=True))
VALUES = st.tuples(st.integers(0, 3), st.tuples(st.integers(0, 2)), st.lists(st.integers(0, 2), max_size=2))


@given(VALUES, VALUES)
def test_equal_hashed_and_shown_alike(one: Any, other: Any) -> None:
    assert (Ours(*one) == Ours(*other)) == (Theirs(*one) == Theirs(*other))
    assert repr(Ours(*one)) == repr(Theirs(*one))
    assert repr(replace(Ours(*one), second=other[1])) == repr(replace(Theirs(*one), second=other[1]))
    assert hash(Kept(str(one[0]), 1.0)) == hash(Kept(str(one[0]), 1.0))
    assert Ours(*one) != one


def test_defaults_arguments_and_slots_are_alike() -> None:
    assert repr(Ours(1)) == repr(Theirs(1)) == "Made(first=1, second=(), third=[])"
    assert Ours(1).third is not Ours(1).third
    assert Ours.__match_args__ == Theirs.__match_args__ and Ours.__slots__ == Theirs.__slots__
    assert [f.name for f in fields(Ours)] == [f.name for f in fields(Theirs)] and is_dataclass(Ours)
    assert not hasattr(Ours(1), "__dict__")
    for wrong in ((), (1, (), [], 4)):
        with pytest.raises(TypeError):
            Ours(*wrong)
    with pytest.raises(TypeError, match="strange"):
        Ours(1, strange=2)


def test_it_cannot_be_changed() -> None:
    for kept in (Ours(1), Kept("a")):
        name = fields(kept)[0].name
        with pytest.raises(FrozenInstanceError):
            setattr(kept, name, 2)
        with pytest.raises(FrozenInstanceError):
            delattr(kept, name)
        with pytest.raises((FrozenInstanceError, AttributeError)):
            kept.another = 1


def test_it_survives_copying_and_keeping() -> None:
    kept = Kept("lamp", 2.0)
    assert copy.copy(kept) == copy.deepcopy(kept) == pickle.loads(pickle.dumps(kept)) == kept


def test_what_checks_itself_is_checked() -> None:
    with pytest.raises(ValueError, match="below zero"):
        Kept("lamp", -1.0)
    with pytest.raises(ValueError, match="below zero"):
        replace(Kept("lamp"), amount=-1.0)
