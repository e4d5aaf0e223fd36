"""Several built fields on one stick: their shapefiles, and one set of task data."""

import shutil
from collections.abc import Sequence
from pathlib import Path

from vrp.errors import InputError, VrpError
from vrp.io import folder, record, taskdata, taskdata_compare
from vrp.io.machine_files import FOLDER
from vrp.io.recall import recalled
from vrp.io.verify import verify
from vrp.prescription import MachineGrid, Prescription


def gather(to: Path, outs: Sequence[Path]) -> tuple[MachineGrid, ...]:
    """
    Write what goes to the root of a stick into a new folder.

    A stick holds one TASKDATA, with a task for each field that has task data. Returns
    how far each grid errs. Raises InputError where the folder is not new, or an output
    folder has no machine files or does not agree with its record.
    """
    if to.exists():
        raise InputError(f"{to}: is there already: name a new folder")
    fields = [_field(out) for out in outs]
    new = folder.stage(to, overwrite=False)
    try:
        for out in outs:
            for path in sorted((out / FOLDER).glob("*.*")):
                _copy(path, new / path.name)
        grids = _task_data(new, fields)
        folder.swap(new, to)
    except OSError as exc:
        raise InputError(f"{to}: cannot be written: {exc.strerror}") from exc
    finally:
        folder.discard(new)
    return grids


def _field(out: Path) -> Prescription:
    """Return what a folder holds, which must agree with its record."""
    faults = verify(out).faults
    if faults:
        message = f"{out}: does not agree with its record, so it is not copied: "
        raise InputError(f"{message}{faults[0]}")
    found = recalled(record.read(out), out, changed=frozenset())
    if not (out / FOLDER).is_dir():
        raise InputError(f"{out}: has no machine files: a stop finding holds them back")
    return found


def _copy(path: Path, there: Path) -> None:
    if there.exists() and there.read_bytes() != path.read_bytes():
        message = f"{path.name}: two fields have a file of this name: give them names"
        raise InputError(f"{message} or years of their own and build again")
    shutil.copyfile(path, there)


def _task_data(new: Path, fields: Sequence[Prescription]) -> tuple[MachineGrid, ...]:
    asked = [one for one in fields if "task-data" in one.plan.files.machine]
    if not asked:
        return ()
    versions = {one.plan.files.task_data_version for one in asked}
    if len(versions) > 1:
        asked_for = " and ".join(sorted(versions))
        message = f"files.task_data_version: the fields ask for {asked_for}"
        raise InputError(f"{message}: one TASKDATA has one version")
    grids = taskdata.write(new, asked, version=versions.pop())
    for fault in taskdata_compare.compare(new, asked):
        raise VrpError(fault)
    return grids
