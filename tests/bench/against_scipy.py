"""Time of a day: the program beside solve_ivp on the same equations.

Run:  cargo build --release --example time_day
      pip install -r tests/reference/requirements.txt && python tests/bench/against_scipy.py [rounds]

The twin of tests/reference solves the same days with RK45, DOP853 and LSODA, each at the loosest of a ladder of
tolerances whose error stays below 0.01 K against a tight run of the twin (hydraulics every 0.1 K, LSODA 1e-9, passes
DOP853 1e-10). Its hydraulics are tabulated every 2.5 K as the program's are. Two times are given: of the first solve,
and of a second one that finds tables, flash speeds and nominal passes kept; the program solves all that anew every
time. Method by method and round by round, interleaved; medians. Nearly all of the ratio is that the twin's
right-hand side is interpreted; the evaluations say what the methods do.
"""

import json
import os
import pathlib
import statistics
import subprocess
import sys
import time

ROOT = pathlib.Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tests/reference"))

from twin import Twin  # noqa: E402

DAYS = ["saturday_bracket_day", "test_and_tune_evening"]
METHODS = ["RK45", "DOP853", "LSODA"]
LADDER = [3e-4, 1e-4, 3e-5, 1e-5, 3e-6, 1e-6, 3e-7, 1e-7]
AIM_K, PROGRAM_REPEATS = 0.01, 25
PROGRAM = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", ROOT / "target")) / "release/examples/time_day"


def results(answer):
    """Temperatures at the ends of events, elapsed times at marks."""
    return ([end["temperatures_c"] for end in answer["ends"]],
            [[mark["elapsed_s"] for mark in launch["marks"]] for launch in answer["launches"] if launch])


def error(found, exact):
    """Worst temperature (K) and elapsed time (s)."""
    worst = [max((abs(a - b) for mine, right in zip(one, other) for a, b in zip(mine, right)), default=0.0)
             for one, other in zip(found, exact)]
    return tuple(worst)


def program(path):
    out = subprocess.run([PROGRAM, path, str(PROGRAM_REPEATS)], check=True, capture_output=True, text=True).stdout
    head, *lines = out.splitlines()
    seconds, evaluations = head.split()
    passes = [[float(x) for x in line.split()[1:]] for line in lines if line.startswith("pass")]
    ends = [[float(x) for x in line.split()] for line in lines if not line.startswith("pass")]
    return float(seconds), int(evaluations), (ends, passes)


def twin(setup, method, relative):
    return Twin(setup, method, relative, 1e5 * relative, method, relative, grid_step=2.5, steps_per_piece=1)


def solve(scenario, method, relative):
    """Seconds of the first and of a second solve, evaluations, results."""
    start = time.perf_counter()
    solver = twin(scenario["setup"], method, relative)
    solver.run_day(scenario)
    first, evaluations = time.perf_counter() - start, solver.evaluations
    start = time.perf_counter()
    answer = solver.run_day(scenario)
    return first, time.perf_counter() - start, evaluations, results(answer)


def loosest(scenario, method, exact):
    """The loosest tolerance of the ladder that reaches the aim, or the best."""
    tried = []
    for relative in LADDER:
        worst = error(results(twin(scenario["setup"], method, relative).run_day(scenario)), exact)
        tried.append((worst[0], relative))
        if worst[0] <= AIM_K:
            return relative
    return min(tried)[1]


def main():
    rounds = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    for name in DAYS:
        path = ROOT / f"scenarios/{name}.json"
        scenario = json.loads(path.read_text("utf-8"))
        exact = results(Twin(scenario["setup"]).run_day(scenario))
        tolerances = {method: loosest(scenario, method, exact) for method in METHODS}
        times, said = {}, {}
        for _ in range(rounds):
            seconds, evaluations, found = program(path)
            times.setdefault("program", []).append((seconds, seconds))
            said["program"] = evaluations, error(found, exact)
            for method in METHODS:
                first, again, evaluations, found = solve(scenario, method, tolerances[method])
                times.setdefault(method, []).append((first, again))
                said[method] = evaluations, error(found, exact)
        own = statistics.median(first for first, _ in times["program"])
        print(f"\n{scenario['name']}, {rounds} rounds")
        print(f"{'method':<16}{'time, s':>10}{'again, s':>10}{'evaluations':>13}{'error, K':>10}{'error, s':>10}"
              f"{'ratio':>8}{'again':>8}")
        for method in ["program", *METHODS]:
            first, again = (statistics.median(column) for column in zip(*times[method]))
            evaluations, (worst_k, worst_s) = said[method]
            label = method if method == "program" else f"{method} {tolerances[method]:.0e}"
            print(f"{label:<16}{first:>10.4g}{again:>10.4g}{evaluations:>13}{worst_k:>10.1e}{worst_s:>10.1e}"
                  f"{first / own:>8.0f}{again / own:>8.0f}")
    print("\nMachines are noisy: only ratios within one run count.")


if __name__ == "__main__":
    main()
