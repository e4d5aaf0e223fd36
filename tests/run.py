"""Run every check of the project: format, lint, types, docs, doors, tests."""

import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[1]
BIN = Path(sys.executable).parent
LINTED = sorted(
    str(path.relative_to(ROOT))
    for room in ("agronomy", "spatial")
    for path in (ROOT / "vrp" / room).rglob("*.py")
)
CHECKS = (
    ("ruff", "format", "--check", "."),
    ("ruff", "check", "."),
    ("mypy",),
    ("numpydoc", "lint", *LINTED),
    ("lint-imports",),
    # The installed package is tested, not the folder: so is what the wheel leaves out.
    # On every processor; a file's tests stay together, as they share builds.
    (
        "pytest",
        "tests",
        "--pyargs",
        "vrp",
        "--doctest-modules",
        "--numprocesses=auto",
        "--dist=loadfile",
        "--cov",
        *sys.argv[1:],
    ),
)


def main() -> int:
    """Run all checks, whatever fails, and say which did."""
    failed = []
    for program, *arguments in CHECKS:
        shown = " ".join([program, *arguments[:3]])
        print(f"== {shown}", flush=True)
        done = subprocess.run([BIN / program, *arguments], cwd=ROOT, check=False)
        if done.returncode:
            failed.append(shown)
    print("All checks passed." if not failed else f"Failed: {'; '.join(failed)}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main())
