"""Errors say what was found and where, what was needed and what to do next, to people and to programs."""

import pickle

import pytest

from siting import errors
from siting.errors import DatumError, Fault, InputError, OutputError, PackError, SitingError

PARTS = {"found": "latitude 95", "needed": "latitude from -84 to 84", "do_next": "correct the cell"}


@pytest.mark.parametrize(
    ("where", "first_line"),
    [
        ({}, "latitude 95"),
        ({"file": "points.csv"}, "points.csv: latitude 95"),
        ({"file": "points.csv", "row": 3}, "points.csv, row 3: latitude 95"),
        ({"row": 3}, "latitude 95"),
    ],
)
def test_a_fault_reads_in_three_lines(where, first_line):
    """Where and what; what was needed; what to do next."""
    lines = str(Fault(**PARTS, **where)).split("\n")

    assert [first_line, "  needed: latitude from -84 to 84", "  do next: correct the cell"] == lines


def test_an_error_holds_every_fault_of_a_sheet():
    """All faults are in the text in order, and in the attributes for programs."""
    first, second = Fault(**PARTS, file="a.csv", row=2), Fault(**PARTS, file="a.csv", row=9)

    error = InputError(first, second)

    assert (first, second) == error.faults
    assert f"{first}\n{second}" == str(error)


def test_an_error_of_one_fault_is_of_the_class_it_was_made_from():
    """`of` keeps the class, the file and the row."""
    error = DatumError.of("a", needed="b", do_next="c", file="plan.gpkg", row=4)

    assert DatumError is type(error)
    assert (Fault(found="a", needed="b", do_next="c", file="plan.gpkg", row=4),) == error.faults


def test_every_error_is_a_siting_error():
    """The command line translates the one base; nothing else is shown as a message."""
    classes = [c for c in vars(errors).values() if isinstance(c, type) and issubclass(c, Exception)]

    assert len(classes) >= 6
    assert [] == [c.__name__ for c in classes if not issubclass(c, SitingError)]
    assert issubclass(DatumError, InputError)
    assert not issubclass(PackError, InputError)


def test_an_error_travels_between_processes():
    """A worker's error arrives with its faults."""
    error = OutputError.of("a", needed="b", do_next="c", file="x")

    twin = pickle.loads(pickle.dumps(error))

    assert OutputError is type(twin)
    assert error.faults == twin.faults
