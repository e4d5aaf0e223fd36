"""The output folder: written beside, moved in whole, never half there."""

import hashlib
import json
import os
import shutil
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from vrp.errors import InputError

RECORD = "record.json"


@contextmanager
def lock(out: Path) -> Iterator[None]:
    """Hold the output folder for one run; the lock falls with the process."""
    path = _beside(out, "lock")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        file = path.open("a+b")
    except OSError as exc:
        raise InputError(f"{out}: cannot be written: {exc.strerror}") from exc
    with file:
        try:
            _hold(file.fileno())
        except OSError as exc:
            raise InputError(f"{out}: another run is writing it; wait for it") from exc
        try:
            yield
        finally:
            path.unlink(missing_ok=True)


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
    try:
        if old.exists() and not out.exists():
            old.rename(out)
        for left in (new, old):
            if left.exists():
                shutil.rmtree(left)
        if not overwrite:
            _refuse_foreign(out)
        new.mkdir(parents=True)
    except OSError as exc:
        raise InputError(f"{out}: cannot be written: {exc.strerror}") from exc
    return new


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
    if not out.is_dir():
        raise InputError(f"{out}: is a file; name a folder")
    present = files_below(out)
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
    for name, sha256 in present.items():
        if name not in known:
            reason = f"holds {name}, which vrp did not write"
        elif known[name] != sha256:
            reason = f"holds {name}, which was changed after vrp wrote it"
        else:
            continue
        message = f"{out}: {reason}; choose another folder, or use --overwrite"
        raise InputError(message)


def _beside(out: Path, word: str) -> Path:
    return out.with_name(f".{out.name}.{word}")
