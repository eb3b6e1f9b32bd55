"""Frozen records are what ``dataclasses.dataclass(frozen=True)`` makes, only sooner."""

import copy
import pickle
from dataclasses import FrozenInstanceError, asdict, dataclass, field, fields, replace

import pytest

from substitute.frozen import frozen


def shapes(decorator, by_identity):
    @decorator
    class Plain:
        """A name and what may be left out."""

        name: str
        count: float = 1.0
        parts: tuple[str, ...] = ()
        more: dict[str, float] = field(default_factory=dict)
        told: str = field(default="", compare=False)
        hidden: str = field(default="", repr=False)
        held: bool = False

        @property
        def twice(self) -> float:
            return self.count * 2

    @decorator
    class Further(Plain):
        """A field more, one that is worked out."""

        last: int = 0
        seen: list[str] = field(init=False, default_factory=list)

    @decorator
    class Single:
        """One field."""

        only: object

    @decorator
    class Nothing:
        """None."""

    @by_identity
    class Alone:
        """Equal to itself alone."""

        name: str

    return Plain, Further, Single, Nothing, Alone


OURS = shapes(frozen, frozen(eq=False))
THEIRS = shapes(dataclass(frozen=True), dataclass(frozen=True, eq=False))


@pytest.mark.parametrize(
    ("kind", "given", "named"),
    [
        (0, ("a",), {}),
        (0, ("a", 2.0), {"parts": ("x",), "told": "so", "hidden": "here"}),
        (0, ("a",), {"more": {"b": 1.0}}),
        (1, ("a",), {"last": 3}),
        (2, (None,), {}),
        (2, (float("nan"),), {}),
        (3, (), {}),
        (4, ("a",), {}),
    ],
)
def test_the_same_as_the_standard_library(kind, given, named):
    ours, theirs = OURS[kind](*given, **named), THEIRS[kind](*given, **named)
    assert repr(ours) == repr(theirs)
    assert asdict(ours) == asdict(theirs)
    assert [one.name for one in fields(ours)] == [one.name for one in fields(theirs)]
    assert OURS[kind].__match_args__ == THEIRS[kind].__match_args__
    for one in (ours, theirs):
        again = type(one)(*given, **named)
        assert (one == again) is (kind != 4)
        assert one != given
        if kind < 2:
            assert replace(one, count=5).twice == 10
            with pytest.raises(TypeError, match="unhashable"):  # it holds a dictionary
                hash(one)
        else:
            assert (hash(one) == hash(again)) is (kind != 4)
        assert copy.copy(one).__dict__ == one.__dict__
        for change in (lambda one=one: setattr(one, "name", "b"), lambda one=one: delattr(one, "name")):
            with pytest.raises(FrozenInstanceError):
                change()
    with pytest.raises(TypeError, match=r"__init__\(\) "):
        OURS[kind](*given, other=1)


def test_what_does_not_compare_and_what_is_made_anew():
    plain = OURS[0]
    assert plain("a", told="x") == plain("a", told="y") != plain("b")
    assert plain("a") != OURS[1]("a")
    assert plain("a").more is not plain("a").more
    assert OURS[1]("a").seen == [] and OURS[1]("a").seen is not OURS[1]("a").seen
    with pytest.raises(TypeError, match="'name'"):
        plain()


def test_records_travel_between_processes(library):
    held = library.find("vanillin")
    assert pickle.loads(pickle.dumps(held)) == held
    assert hash(held) == hash(pickle.loads(pickle.dumps(held)))
