"""The whole review of a large log beside a script that only reads it with Polars, in turn, in one run.

    python3 benches/large_log.py            # makes the log, builds nothing: `cargo build --release` comes first

The log has 360,000 rows (an hour at 100 a second) and 150 columns, about 300 MB. It is invented: speed, load and heat go
up and down smoothly with noise on top, so that every check has something to work on. It stays in a temporary folder and is
deleted at the end. Needs the Python package `polars` (`pip install polars`).
"""

import argparse
import os
import pathlib
import resource
import statistics
import subprocess
import sys
import tempfile
import time

HOME = pathlib.Path(__file__).resolve().parent.parent
READ = "import sys, polars; polars.read_csv(sys.argv[1])"


def make(path: pathlib.Path, rows: int) -> None:
    import polars as pl

    def noise(seed: int) -> pl.Expr:
        # A fixed sequence that looks like noise, between -1 and 1.
        return ((pl.col("i") * 2654435761 + seed * 40503) % 65521 / 32760.5 - 1).cast(pl.Float64)

    t = pl.col("i") / 100
    run = (pl.col("i") > 1500).cast(pl.Float64)
    wave = ((t / 37).sin() + 1) / 2
    level = {
        "Time (s)": t,
        "Engine Speed (rpm)": run * (1100 + 5000 * wave + 20 * noise(1)),
        "MAP (kPa)": pl.when(pl.col("i") > 1500).then(35 + 60 * wave + noise(2)).otherwise(98.0),
        "Throttle (%)": run * (80 * wave + noise(3)).clip(0, 100),
        "Battery (V)": 12.5 + run * (1.7 + 0.03 * noise(4)),
        "Lambda": 0.85 + 0.02 * noise(5),
        "Coolant Temp (degC)": 20 + 70 * (1 - (-t / 300).exp()) + 0.2 * noise(6),
        "Oil Temp (degC)": 20 + 75 * (1 - (-t / 500).exp()) + 0.2 * noise(7),
        "Oil Press (kPa)": run * (150 + 300 * wave + 5 * noise(8)),
        "Fuel Press (kPa)": 300 + 2 * noise(9),
        "Intake Temp (degC)": 20 + 10 * wave + 0.2 * noise(10),
        "Baro (kPa)": 98 + 0.05 * noise(11),
        "Road Speed (km/h)": run * (120 * wave),
        "Ignition Advance (deg)": 10 + 20 * wave + 0.5 * noise(12),
        "Sync Errors": pl.lit(2.0),
        "Fuel Cut": pl.lit(0.0),
        "Uptime (s)": t + 3,
    }
    for c in range(1, 7):
        level[f"EGT Cyl {c} (degC)"] = 20 + run * (380 + 350 * wave + 3 * c + 3 * noise(20 + c))
        level[f"Knock Cyl {c}"] = (t / (900 + 40 * c)).floor()
    for n in range(150 - len(level)):
        level[f"Aux {n + 1}"] = 50 + 10 * noise(100 + n)
    base = pl.DataFrame({"i": pl.int_range(rows, eager=True)})
    frame = base.select([e.alias(name) for name, e in level.items()])
    frame.write_csv(path, float_precision=3)


def once(command: list[str]) -> tuple[float, float]:
    """Wall time, s, and peak resident memory, MB, of one process."""
    start = time.perf_counter()
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    _, status, usage = os.wait4(child.pid, 0)
    took = time.perf_counter() - start
    if os.waitstatus_to_exitcode(status) not in (0, 1):
        sys.exit(f"{command[0]} failed")
    return took, usage.ru_maxrss / 1024


def main() -> None:
    ask = argparse.ArgumentParser()
    ask.add_argument("--rows", type=int, default=360_000)
    ask.add_argument("--times", type=int, default=7)
    told = ask.parse_args()
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", HOME / "target"))
    with tempfile.TemporaryDirectory() as folder:
        log = pathlib.Path(folder) / "large.csv"
        make(log, told.rows)
        print(f"{log.stat().st_size / 1e6:.0f} MB, {told.rows} rows, 150 columns, {os.cpu_count()} cores")
        ours = [str(target / "release" / "plugread"), "review", str(log), "--sheet", str(HOME / "sample-logs" / "hill-special.toml"), "--format", "json"]
        peers = {"polars.read_csv, reading only": [sys.executable, "-c", READ, str(log)], "plugread review, all checks": ours}
        for command in peers.values():
            once(command)
        times: dict[str, list[tuple[float, float]]] = {name: [] for name in peers}
        for _ in range(told.times):
            for name, command in peers.items():
                times[name].append(once(command))
        middle = {name: statistics.median(t for t, _ in list_) for name, list_ in times.items()}
        base = next(iter(middle.values()))
        for name, list_ in times.items():
            peak = max(m for _, m in list_)
            print(f"{name:32} {middle[name]:6.2f} s   {middle[name] / base:5.2f} of reading   {peak:6.0f} MB at most")


if __name__ == "__main__":
    main()
