"""What is dear to make is made once for all processes of a test run; they read it, and none writes to it."""

import os
import pickle
import time

WAIT_SECONDS = 1200


def made_once(tmp_path_factory, name, make):
    """Return what ``make(folder)`` returns: made by the process that asks first, awaited by the others.

    The folder is empty, and the same for all. What is returned must bear pickling.
    """
    base = tmp_path_factory.getbasetemp()
    folder = (base.parent if "PYTEST_XDIST_WORKER" in os.environ else base) / name
    note = folder.with_name(f"{name}.made")
    try:
        folder.mkdir()
    except FileExistsError:
        return _awaited(note)
    found = None, "the process that made it was cut"
    try:
        found = make(folder), None
        return found[0]
    except BaseException as error:
        found = None, repr(error)
        raise
    finally:
        draft = note.with_name(f"{name}.draft")
        draft.write_bytes(pickle.dumps(found))
        os.replace(draft, note)


def _awaited(note):
    deadline = time.monotonic() + WAIT_SECONDS
    while not note.exists():
        assert time.monotonic() < deadline, f"{note.stem} was not made within {WAIT_SECONDS} seconds"
        time.sleep(0.1)
    made, fault = pickle.loads(note.read_bytes())
    assert fault is None, f"{note.stem} could not be made: {fault}"
    return made
