"""The count itself: told of a loss, a double or a mix-up, the ledger says so."""

from tests.faults.ledger import Arrival, Count, Ledger
from tests.faults.table import closing_line, table


def letter(n, slot=0, mark="", unanswered=False):
    return Arrival(f"letter-{n}", mark or f"<{n}@faults>", slot, unanswered)


def ledger(*arrived, promised=(1, 2)):
    return Ledger(promised={f"letter-{n}" for n in promised}, arrived=list(arrived))


def test_each_letter_once_is_all_right():
    count = ledger(letter(1), letter(2)).count()
    assert count == Count(promised=2, lost=0, doubled=0, allowed=0)
    assert not count.failed


def test_a_letter_that_never_came_is_lost():
    count = ledger(letter(1)).count()
    assert (count.lost, count.failed) == (1, True)


def test_a_double_that_no_fault_explains_fails():
    count = ledger(letter(1), letter(2), letter(1)).count()
    assert (count.doubled, count.allowed, count.failed) == (1, 0, True)
    assert "letter-1" in count.wrong[0]


def test_a_double_is_allowed_where_a_fault_struck_before_the_mark():
    told = ledger(letter(1), letter(2))
    told.strike([0], unmarked={"letter-1"})
    told.arrived.append(letter(1))
    count = told.count()
    assert (count.doubled, count.allowed, count.failed) == (1, 1, False)


def test_what_a_fault_allows_one_letter_explains_no_other():
    told = ledger(letter(1), letter(2))
    told.strike([0], unmarked={"letter-1"})
    told.arrived.append(letter(2))
    count = told.count()
    assert (count.doubled, count.allowed) == (1, 1)
    assert count.failed


def test_a_fault_allows_one_double_not_two():
    told = ledger(letter(1), letter(2))
    told.strike([0], unmarked={"letter-1"})
    told.arrived += [letter(1), letter(1)]
    assert told.count().failed


def test_a_second_fault_does_not_count_the_same_arrival_again():
    told = ledger(letter(1), letter(2))
    for _ in range(2):
        told.strike([0], unmarked={"letter-1"})
    assert told.count().allowed == 1


def test_a_fault_of_one_worker_explains_nothing_of_another():
    told = ledger(letter(1, slot=1), letter(2, slot=2))
    told.strike([2], unmarked={"letter-1"})
    assert told.count().allowed == 0


def test_a_server_that_hangs_up_after_taking_a_letter_allows_another():
    count = ledger(letter(1, unanswered=True), letter(1), letter(2)).count()
    assert (count.doubled, count.allowed, count.failed) == (1, 1, False)


def test_a_double_under_another_message_id_fails():
    told = ledger(letter(1), letter(2))
    told.strike([0], unmarked={"letter-1"})
    told.arrived.append(letter(1, mark="<other@faults>"))
    assert told.count().failed


def test_two_letters_under_one_message_id_fail():
    assert ledger(letter(1, mark="<a@faults>"), letter(2, mark="<a@faults>")).count().failed


def test_a_letter_that_was_taken_back_must_not_come():
    told = ledger(letter(1), letter(2), letter(3))
    told.never = {"letter-3"}
    assert told.count().failed


def test_the_last_line_adds_up_all_faults():
    counts = {"one": Count(10, 1, 2, 3), "two": Count(10, 0, 4, 5)}
    assert closing_line(list(counts.values())) == "lost 1, doubled 6, allowed 8"
    assert "one" in table([(name, "letters", 7, c, 1.5) for name, c in counts.items()])
