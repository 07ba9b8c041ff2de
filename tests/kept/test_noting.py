"""What is read is noted: by name, through memos, questions and altered records."""

from dataclasses import dataclass, field

import pytest

from reach.kept.noting import ANSWER, UNKNOWN, Memo, Reads, altered, asked_whole, noted


@noted()
@dataclass(frozen=True, eq=False, slots=True)
class Task:
    who: str
    where: str = "here"


@noted("tasks")
@dataclass(frozen=True, eq=False, slots=True)
class Plan:
    tasks: tuple[Task, ...]
    memo: Memo = field(default_factory=Memo)


@asked_whole
def first_of(plan, who):
    return next(one for one in plan.tasks if one.who == who)


@pytest.fixture
def plan():
    return Plan((Task("R"), Task("L"), Task("R", "there")))


@pytest.fixture
def reads(plan):
    return Reads(plan, {("task", k): one for k, one in enumerate(plan.tasks)}, {})


def test_fields_are_noted_by_name_and_only_while_noting(plan, reads):
    with reads.noting(), reads.apart() as notes:
        assert plan.tasks[1].who == "L"
    assert notes == {(("site",), "tasks"), (("task", 1), "who")}
    assert plan.tasks[0].where == "here"
    assert len(notes) == 2


def test_a_memo_tells_what_an_entry_was_made_from_to_all_who_ask(plan, reads):
    one = reads.records["task", 2]

    def asked():
        if "place" not in plan.memo:
            plan.memo["place"] = one.where.upper()
        return plan.memo["place"]

    with reads.noting():
        for _ in range(2):
            with reads.apart() as notes:
                assert asked() == "THERE"
            assert notes == {(("task", 2), "where")}


def test_a_memo_entry_of_unknown_origin_makes_what_reads_it_unknown(plan, reads):
    plan.memo["found before"] = 1
    with reads.noting(), reads.apart() as notes:
        assert plan.memo["found before"] == 1
    assert notes == {UNKNOWN}


def test_who_comes_first_must_not_decide(plan):
    with pytest.raises(TypeError, match="who comes first"):
        plan.memo.setdefault("key", 1)


def test_of_a_question_about_the_whole_only_the_answer_is_noted(plan, reads):
    with reads.noting(), reads.apart() as notes:
        assert first_of(plan, "L") is reads.records["task", 1]
    assert notes == {(("L",), f"{ANSWER}{__name__}:first_of")}
    # Of another site it is asked as any other function is.
    with reads.noting(), reads.apart() as notes:
        first_of(Plan(plan.tasks), "L")
    assert (("task", 0), "who") in notes


def test_an_altered_record_tells_of_the_fields_that_it_shares(plan, reads):
    one = reads.records["task", 0]
    with reads.noting(), reads.apart() as notes:
        other = altered(one, where="elsewhere")
        assert notes == set()
        assert (other.who, other.where) == ("R", "elsewhere")
    assert notes == {(("task", 0), "who")}
