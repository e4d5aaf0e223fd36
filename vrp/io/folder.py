"""The output folder: written beside, moved in whole, never half there."""

import hashlib
import json
import os
import shutil
import sys
from collections.abc import Iterable, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from vrp.errors import InputError

RECORD = "record.json"

# Where a format wants a time of writing: same input, same bytes.
NO_CLOCK = "2000-01-01T00:00:00.000Z"


@contextmanager
def lock(out: Path) -> Iterator[None]:
    """Hold the output folder for one run; the lock falls with the process."""
    path = _beside(out, "lock")
    while True:
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            file = path.open("a+b")
        except OSError as exc:
            raise InputError(f"{out}: cannot be written: {exc.strerror}") from exc
        with file:
            try:
                _hold(file.fileno())
            except OSError as exc:
                message = f"{out}: another run is writing it; wait for it"
                raise InputError(message) from exc
            if not _is_at(path, file.fileno()):
                continue  # a run that ended removed it after it was opened here
            try:
                yield
            finally:
                with suppress(OSError):  # Windows keeps a file that is open
                    path.unlink()
            return


def _is_at(path: Path, descriptor: int) -> bool:
    """Say whether an open file is still the one that stands at a path."""
    try:
        return os.path.samestat(path.stat(), os.fstat(descriptor))
    except FileNotFoundError:
        return False


def _hold(descriptor: int) -> None:
    if sys.platform == "win32":
        import msvcrt

        msvcrt.locking(descriptor, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl

        fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)


def stage(out: Path, *, overwrite: bool) -> Path:
    """Return an empty folder beside `out`; mend a swap that was interrupted."""
    new, old = _beside(out, "new"), _beside(out, "old")
    if out.exists() and not out.is_dir():
        raise InputError(f"{out}: is a file; name a folder")
    try:
        _restore(out)
        for left in (new, old):
            if left.exists():
                shutil.rmtree(left)
        if not overwrite:
            _refuse_foreign(out)
        new.mkdir(parents=True)
    except OSError as exc:
        raise InputError(f"{out}: cannot be written: {exc.strerror}") from exc
    return new


def mend(out: Path) -> None:
    """Bring back what stood at `out` where a swap was interrupted, and is no more."""
    if _beside(out, "old").exists() and not out.exists():
        with lock(out):
            _restore(out)


def _restore(out: Path) -> None:
    old = _beside(out, "old")
    if old.exists() and not out.exists():
        old.rename(out)


def refuse_inputs(out: Path, inputs: Iterable[Path]) -> None:
    """Refuse an output folder that holds an input: replacing it would delete that."""
    for path in inputs:
        if path.resolve().is_relative_to(out):
            message = f"{out}: holds {path.name}, an input; choose another folder"
            raise InputError(message)


def swap(new: Path, out: Path) -> None:
    """Move a finished folder into place; what stood there goes only after."""
    old = _beside(out, "old")
    try:
        for path in new.rglob("*"):
            if path.is_file():
                with path.open("rb") as file:
                    os.fsync(file.fileno())
        if out.exists():
            out.rename(old)
        new.rename(out)
        shutil.rmtree(old, ignore_errors=True)
    except OSError as exc:
        with suppress(OSError):
            _restore(out)
        raise InputError(f"{out}: cannot be written: {exc.strerror}") from exc


def discard(new: Path) -> None:
    """Drop a folder that will not be moved into place."""
    shutil.rmtree(new, ignore_errors=True)


def digest(path: Path) -> str:
    """Return the sha256 of a file."""
    return hashlib.sha256(path.read_bytes()).hexdigest()


def files_below(folder: Path) -> dict[str, str]:
    """Return the sha256 of every file but the record, by its name from the folder."""
    found = sorted(path for path in folder.rglob("*") if path.is_file())
    names = {path.relative_to(folder).as_posix(): path for path in found}
    return {name: digest(path) for name, path in names.items() if name != RECORD}


def _refuse_foreign(out: Path) -> None:
    """Refuse a folder that holds what vrp did not write, or what was changed since."""
    if not out.exists():
        return
    try:
        listed = json.loads((out / RECORD).read_text("utf-8"))["files"]
        known = {one["name"]: one["sha256"] for one in listed}
    except FileNotFoundError:
        known = {}
    except (ValueError, KeyError, TypeError) as exc:
        message = (
            f"{out}: its record.json cannot be read; move it away, or use --overwrite"
        )
        raise InputError(message) from exc
    # Names before digests: someone's folder of films is refused at its first.
    for path in out.rglob("*"):
        name = path.relative_to(out).as_posix()
        plain = path.is_dir() and not path.is_symlink()
        if not plain and name not in known and name != RECORD:
            raise InputError(_refused(out, f"holds {name}, which vrp did not write"))
    for name, sha256 in files_below(out).items():
        if known.get(name) != sha256:
            reason = f"holds {name}, which was changed after vrp wrote it"
            raise InputError(_refused(out, reason))


def _refused(out: Path, reason: str) -> str:
    return f"{out}: {reason}; choose another folder, or use --overwrite"


def _beside(out: Path, word: str) -> Path:
    if not out.name:
        raise InputError(f"{out}: cannot be replaced; name a folder in it")
    return out.with_name(f".{out.name}.{word}")
