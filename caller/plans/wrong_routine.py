"""What is said of a routine that cannot be used: all its faults, each with its part."""

from collections.abc import Iterator
from contextlib import AbstractContextManager, contextmanager
from typing import TYPE_CHECKING, Any

from engine.errors import RoutineError

if TYPE_CHECKING:
    from caller.routine_file.reading import RoutineFile, RoutineFileError


def wrong_routine_told(as_json: bool) -> AbstractContextManager[None]:
    """Show the faults of a routine file as the one JSON document; see `told_in_json`."""
    from caller.console.terminal import told_in_json
    from caller.routine_file.reading import RoutineFileError

    return told_in_json(RoutineFileError, wrong_routine_document, as_json=as_json)


def wrong_routine_document(error: "RoutineFileError") -> dict[str, Any]:
    """Return what is wrong with a routine file as JSON has it."""
    faults = [
        {"place": fault.place, "key": fault.key, "message": fault.sentence}
        for fault in error.faults
    ]
    return {"file": str(error.path), "valid": False, "faults": faults, "message": error.message}


@contextmanager
def adding_up(file: "RoutineFile") -> Iterator[None]:
    """Turn what does not add up in a routine into faults of its file.

    Raises
    ------
    RoutineFileError
        With every fault at its part.
    """
    from caller.routine_file.faults import Fault
    from caller.routine_file.reading import RoutineFileError

    try:
        yield
    except RoutineError as error:
        faults = [Fault(_place(file, each.number), "", each.sentence) for each in error.faults]
        # A repeat has a fault each time it comes.
        raise RoutineFileError(file.path, list(dict.fromkeys(faults))) from error


def _place(file: "RoutineFile", number: int | None) -> str:
    """Return where a part stands in its file, in the words of the faults that are found first."""
    from caller.routine_file.building import REST
    from caller.routine_file.parts import part_place

    if number is None:
        return ""
    name = file.routine.parts[number - 1].name
    return part_place(file.places[number - 1], "" if name == REST else name)
