"""
How long kriging takes and how much memory, beside general libraries.

    python tests/benchmarks/kriging.py

Mean and variance from the same samples on the same cells, by the same model. Each case
runs in a process of its own. Prints the tables that stand in docs/performance.md, with
what this machine allows at best. Libraries that are not installed are left out:
``pip install pykrige gstools scikit-learn``.
"""

import importlib.util
import json
import math
import os
import statistics
import subprocess
import sys
import time
from pathlib import Path

import numpy as np

SAMPLES = (64, 256, 1000, 4000)
CELLS = (81, 161, 1000)  # a side
LONGEST = 60.0  # [s]
MOST_MEMORY = 6e9  # of what a library is known to hold at once [bytes]
NUGGET, SILL, RANGE, SIDE = 0.3, 0.7, 400.0, 800.0
KILOBYTES = 1024.0  # in a megabyte


def ground(samples, side):
    """Return positions, values, and the coordinates of the cells' centres."""
    rng = np.random.default_rng(samples)
    xy = rng.uniform(0.0, SIDE, (samples, 2))
    value = np.sin(xy[:, 0] / 90.0) + np.cos(xy[:, 1] / 130.0)
    line = (np.arange(side) + 0.5) * SIDE / side
    return xy, value + 0.5 * rng.standard_normal(samples), line


def _vrp(xy, value, line, *, exact=None):
    from vrp.spatial import kriging, local_kriging, solution
    from vrp.spatial.variogram import Variogram

    model = Variogram("exponential", NUGGET, SILL, RANGE)
    cells = np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)
    exact = len(value) <= solution.MOST_EXACT if exact is None else exact
    room = kriging if exact else local_kriging

    def run():
        with kriging.one_thread():
            room.estimate(room.prepare(xy, value, variogram=model), cells)

    return run


def _vrp_exact(xy, value, line):
    return _vrp(xy, value, line, exact=True)


def _pykrige(xy, value, line, *, backend="vectorized"):
    from pykrige.ok import OrdinaryKriging

    parameters = {"psill": SILL, "range": RANGE, "nugget": NUGGET}

    def run():
        OrdinaryKriging(
            *xy.T,
            value,
            variogram_model="exponential",
            variogram_parameters=parameters,
            exact_values=False,
        ).execute("grid", line, line, backend=backend)

    return run


def _pykrige_c(xy, value, line):
    return _pykrige(xy, value, line, backend="C")


def _gstools(xy, value, line):
    import gstools

    model = gstools.Exponential(dim=2, var=SILL, len_scale=RANGE / 3.0, nugget=NUGGET)

    def run():
        gstools.krige.Ordinary(model, xy.T, value).structured([line, line])

    return run


def _sklearn(xy, value, line):
    from sklearn.gaussian_process import GaussianProcessRegressor, kernels

    kernel = kernels.ConstantKernel(SILL) * kernels.Matern(RANGE / 3.0, nu=0.5)
    cells = np.stack(np.meshgrid(line, line), -1).reshape(-1, 2)

    def run():
        process = GaussianProcessRegressor(kernel, alpha=NUGGET, optimizer=None)
        process.fit(xy, value - value.mean()).predict(cells, return_std=True)

    return run


# Name, module it needs, what makes its run, and how often it holds samples × cells.
METHODS = {
    "vrp": ("vrp", _vrp, 0),
    "vrp, from all samples": ("vrp", _vrp_exact, 0),
    "PyKrige, vectorized": ("pykrige", _pykrige, 5),
    "PyKrige, C": ("pykrige", _pykrige_c, 1),
    "GSTools": ("gstools", _gstools, 1),
    "scikit-learn, Gaussian process": ("sklearn", _sklearn, 2),
}


def one_case(name, samples, side):
    """Run a case in this process; print its time [s] and peak memory [MB]."""
    run = METHODS[name][1](*ground(samples, side))
    taken = []
    while len(taken) < 3 and (not taken or taken[0] < 2.0):
        started = time.perf_counter()
        run()
        taken.append(time.perf_counter() - started)
    print(json.dumps([statistics.median(taken), peak_memory()]))


def peak_memory():
    """Return the most memory that this process held [MB]; Linux only."""
    # getrusage would count what the parent held when it forked.
    status = Path("/proc/self/status").read_text("ascii")
    line = next(one for one in status.splitlines() if one.startswith("VmHWM"))
    return float(line.split()[1]) / KILOBYTES


def case(name, samples, side):
    """Return time [s] and peak memory [MB] of a case, or why there are none."""
    held = METHODS[name][2] * samples * side**2 * 8
    if held > MOST_MEMORY:
        return f"over {MOST_MEMORY / 1e9:.0f} GB"
    command = [sys.executable, __file__, name, str(samples), str(side)]
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, check=True, timeout=LONGEST
        )
    except subprocess.TimeoutExpired:
        return f"over {LONGEST:.0f} s"
    return tuple(json.loads(done.stdout.splitlines()[-1]))


def machine(threads):
    """
    Return products [flop/s], and exponentials and roots [1/s], on all threads.

    One thread at its best in many short trials, times the number of threads: other work
    may be running.
    """
    from threadpoolctl import threadpool_limits

    square, many = np.ones((800, 800)), np.full(500_000, -0.5)
    positive, out = -many, np.empty_like(many)

    def rate(work, amount):
        least = math.inf
        for _ in range(60):
            started = time.perf_counter()
            work()
            least = min(least, time.perf_counter() - started)
        return threads * amount / least

    with threadpool_limits(limits=1, user_api="blas"):
        product = rate(lambda: square @ square, 2 * 800**3)
    exponent = rate(lambda: np.exp(many), len(out))
    return product, exponent, rate(lambda: np.sqrt(positive), len(out))


def bound(samples, cells, rates):
    """Return the least time of the exact answer, by the arithmetic that it needs."""
    product, exponent, root = rates
    pairs = samples * cells
    return pairs * samples / product + pairs / exponent + pairs / root


def shown(seconds):
    """Return a time as a table shows it."""
    return f"{seconds * 1000:.0f} ms" if seconds < 1.0 else f"{seconds:.1f} s"


def main():
    """Print a table a number of cells."""
    threads = len(os.sched_getaffinity(0))
    busy = os.getloadavg()[0]
    names = [
        name
        for name, (module, *_) in METHODS.items()
        if importlib.util.find_spec(module)
    ]
    rates = machine(threads)
    print(
        f"{threads} threads; {rates[0] / 1e9:.0f} GF/s in products, "
        f"{rates[1] / 1e6:,.0f} M exponentials and {rates[2] / 1e6:,.0f} M roots a "
        f"second; {busy:.1f} processes ran or waited when it began."
    )
    gone, taken = {}, {}
    for last, side in zip((CELLS[0], *CELLS), CELLS, strict=False):
        more = (side / last) ** 2
        print(f"\n### {side**2:,} cells\n")
        heads = " | ".join(f"{samples:,} samples" for samples in SAMPLES)
        print(f"| | {heads} |\n|---|{'---|' * len(SAMPLES)}")
        own = {}
        for name in names:
            row = []
            for samples in SAMPLES:
                # What took too long for fewer cells or samples, or is expected to take
                # twice as long as allowed, is not tried.
                too_long = f"over {LONGEST:.0f} s"
                expected = taken.get((name, samples), 0.0)
                before = gone.get((name, samples)) or (
                    too_long
                    if too_long in row or expected * more > 2.0 * LONGEST
                    else None
                )
                if name.endswith("all samples") and samples < SAMPLES[-1]:
                    row.append("as above")
                    continue
                found = before or case(name, samples, side)
                if isinstance(found, str):
                    row.append(found)
                    if found.endswith("s"):
                        gone[name, samples] = found
                    continue
                seconds, peak = found
                own.setdefault(samples, seconds)
                taken[name, samples] = seconds
                text = f"{shown(seconds)}, {peak:,.0f} MB"
                if name != names[0]:
                    text += f", {seconds / own[samples]:.1f}×"
                row.append(text)
            print(f"| {name} | {' | '.join(row)} |", flush=True)
        least = " | ".join(shown(bound(n, side**2, rates)) for n in SAMPLES)
        print(f"| bound of the exact answer | {least} |", flush=True)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        one_case(sys.argv[1], int(sys.argv[2]), int(sys.argv[3]))
    else:
        main()
