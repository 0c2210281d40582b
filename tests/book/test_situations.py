"""Situations that are equal are looked up as one."""

import pickle

from backprobe.book.situations import Situation, one_of


def test_equal_situations_are_one_object() -> None:
    before = Situation(key="on")
    one, other = (Situation(key="run", on=frozenset({"E1"}), after=before) for _ in range(2))
    assert one is not other
    assert one_of(one) is one_of(other)
    assert one_of(one) == one


def test_history_is_left_out_and_nothing_else() -> None:
    whole = Situation(key="run", renewed=frozenset({"F1"}), after=Situation(key="on"))
    bare = Situation(key="run", renewed=frozenset({"F1"}))
    assert whole.bare() == bare != whole
    assert whole.bare() is whole.bare()
    assert bare.bare() is bare


def test_what_is_remembered_does_not_travel() -> None:
    whole = Situation(key="run", after=Situation(key="on"))
    words, bare = whole.words(), whole.bare()
    again = pickle.loads(pickle.dumps(whole))
    assert again == whole
    assert (again.words(), again.bare()) == (words, bare)
    assert set(again.__dict__) - {"hash", "said", "alone"} == set(Situation.__dataclass_fields__)
