"""The pattern or the routine of a command, and what is said of a routine that cannot be used."""

from contextlib import AbstractContextManager
from pathlib import Path
from typing import TYPE_CHECKING, Any

from caller.options.request import Request
from caller.options.routine_options import refuse_with_routine, refuse_without_routine

if TYPE_CHECKING:
    from caller.rehearsals.routine_rehearsal import RoutineSource
    from caller.routine_file.reading import RoutineFileError
    from engine.patterns.pattern import Pattern


def read_subject(request: Request, *, as_json: bool = False) -> "Pattern | RoutineSource":
    """Return the pattern or the routine that a request is about.

    Raises
    ------
    click.UsageError
        If something is asked for that it cannot have.
    WrongInputError, RoutineFileError
        If it cannot be thrown; told as JSON if `as_json`.
    """
    from caller.patterns.wrong_pattern import wrong_input_told
    from caller.rehearsals.routine_rehearsal import routine_source
    from caller.routine_file.reading import is_routine_file
    from engine.patterns.jugglable import read

    if is_routine_file(request.subject):
        refuse_with_routine(request)
        with wrong_routine_told(as_json):
            return routine_source(Path(request.subject), request)
    refuse_without_routine(request)
    with wrong_input_told(request.subject, as_json):
        return read(request.subject)


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
