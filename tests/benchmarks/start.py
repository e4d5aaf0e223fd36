"""
How long a start and a build take, whole process, warm.

    python tests/benchmarks/start.py [TIMES]
"""

import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ROOT = Path(__file__).parents[2]
VRP = Path(sys.executable).parent / "vrp"


def seconds(arguments, *, times):
    """Return the median time of a command after one run to warm up."""
    taken = []
    for _ in range(times + 1):
        started = time.perf_counter()
        subprocess.run([VRP, *arguments], check=True, capture_output=True)
        taken.append(time.perf_counter() - started)
    return statistics.median(taken[1:])


def main():
    """Print both, with the time that Python itself takes to start."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 5
    started = time.perf_counter()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    print(f"python alone: {time.perf_counter() - started:.2f} s")
    print(f"vrp --help: {seconds(['--help'], times=times):.2f} s")
    for name in ("us", "metric"):
        with tempfile.TemporaryDirectory() as out:
            asked = ["build", ROOT / "sample_fields" / name, "--out", Path(out) / "out"]
            print(
                f"vrp build sample_fields/{name}: {seconds(asked, times=times):.2f} s"
            )


if __name__ == "__main__":
    main()
