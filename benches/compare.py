"""Whole reviews beside programs that only read the same file, in turn, in one run.

    python3 benches/compare.py            # builds the release binary, makes its data, prints the table
    python3 benches/compare.py --huge     # and a log of more than 5 GB

The large log has 360,000 rows (an hour at 100 a second) and 150 columns, 40 of them channels that the checks know. It is
invented: speed, load and heat go up and down smoothly with noise on top, so that every check has something to work on.
The data stays in a temporary folder and is deleted at the end. Needs the Python packages polars, duckdb, pandas and pyarrow
(`pip install polars duckdb pandas pyarrow`).

Time is that of the whole process, start included; the median of so many turns. Memory is the most anonymous memory (what
the process asked for itself, without pages of files) that was seen in looks 2 ms apart, in runs of their own.
"""

import argparse
import json
import os
import pathlib
import platform
import shutil
import statistics
import subprocess
import sys
import tempfile
import time

HOME = pathlib.Path(__file__).resolve().parent.parent
SHEET = HOME / "sample-logs" / "hill-special.toml"
READERS = {
    "polars.read_csv": "import sys, polars; polars.read_csv(sys.argv[1])",
    "duckdb read_csv": "import sys, duckdb; duckdb.sql('create table t as select * from read_csv(?)', params=[sys.argv[1]])",
    "pandas.read_csv": "import sys, pandas; pandas.read_csv(sys.argv[1])",
}


def channels(pl) -> dict:
    """The columns of the log, by heading."""

    def noise(seed: int):
        # A fixed sequence that looks like noise, between -1 and 1.
        return ((pl.col("i") * 2654435761 + seed * 40503) % 65521 / 32760.5 - 1).cast(pl.Float64)

    t = pl.col("i") / 100
    run = (pl.col("i") > 1500).cast(pl.Float64)
    wave = ((t / 37).sin() + 1) / 2
    rpm = run * (1100 + 5000 * wave + 20 * noise(1))
    level = {
        "Time (s)": t,
        "Engine Speed (rpm)": rpm,
        "MAP (kPa)": pl.when(pl.col("i") > 1500).then(35 + 60 * wave + noise(2)).otherwise(98.0),
        "Throttle (%)": run * (80 * wave + noise(3)).clip(0, 100),
        "Pedal (%)": run * (80 * wave + noise(13)).clip(0, 100),
        "Battery (V)": 12.5 + run * (1.7 + 0.03 * noise(4)),
        "Lambda": 0.85 + 0.02 * noise(5),
        "Lambda 2": 0.85 + 0.02 * noise(14),
        "Lambda Target": 0.85 + 0 * t,
        "Coolant Temp (degC)": 20 + 70 * (1 - (-t / 300).exp()) + 0.2 * noise(6),
        "Oil Temp (degC)": 20 + 75 * (1 - (-t / 500).exp()) + 0.2 * noise(7),
        "Oil Press (kPa)": run * (150 + 300 * wave + 5 * noise(8)),
        "Fuel Press (kPa)": 300 + 2 * noise(9),
        "Fuel Temp (degC)": 20 + 15 * (1 - (-t / 900).exp()) + 0.2 * noise(15),
        "Intake Temp (degC)": 20 + 10 * wave + 0.2 * noise(10),
        "Baro (kPa)": 98 + 0.05 * noise(11),
        "Road Speed (km/h)": run * (120 * wave),
        "Lateral G (g)": 0.8 * noise(16) * run,
        "Long G (g)": 0.5 * noise(17) * run,
        "Ignition Advance (deg)": 10 + 20 * wave + 0.5 * noise(12),
        "Injector Pulse (ms)": run * (3 + 9 * wave + 0.05 * noise(18)),
        "Injector Duty (%)": run * (5 + 60 * wave + 0.5 * noise(19)),
        "Fuel Trim (%)": run * 2 * noise(31),
        "Gear": (run * (1 + 4 * wave)).floor(),
        "Sync Errors": pl.lit(2.0),
        "Fuel Cut": pl.lit(0.0),
        "Fan": (run * wave).round(),
        "Uptime (s)": t + 3,
    }
    for c in range(1, 7):
        level[f"EGT Cyl {c} (degC)"] = 20 + run * (380 + 350 * wave + 3 * c + 3 * noise(20 + c))
        level[f"Knock Cyl {c}"] = (t / (900 + 40 * c)).floor()
    for n in range(150 - len(level)):
        level[f"Aux {n + 1}"] = 50 + 10 * noise(100 + n)
    return level


def make(path: pathlib.Path, rows: int) -> None:
    import polars as pl

    level = channels(pl)
    part = 360_000
    with open(path, "wb") as out:
        for start in range(0, rows, part):
            base = pl.DataFrame({"i": pl.int_range(start, min(rows, start + part), eager=True)})
            frame = base.select([e.alias(name) for name, e in level.items()])
            frame.write_csv(out, float_precision=3, include_header=start == 0)
    # What is still on its way to the disk would be written beside the first runs.
    os.sync()


def anonymous(pid: int) -> float:
    """Anonymous resident memory, MB."""
    try:
        with open(f"/proc/{pid}/status") as status:
            for line in status:
                if line.startswith("RssAnon"):
                    return int(line.split()[1]) / 1024
    except OSError:
        pass
    return 0.0


def took(command: list[str]) -> float:
    """Wall time of one process, s. Nobody looks at it meanwhile: looking costs time of the cores that it works on."""
    start = time.perf_counter()
    done = subprocess.run(command, stdout=subprocess.DEVNULL, check=False)
    seconds = time.perf_counter() - start
    if done.returncode not in (0, 1):
        sys.exit(f"{command[0]} failed")
    return seconds


def peak(command: list[str]) -> float:
    """Peak anonymous memory of one process, MB, in a run of its own."""
    child = subprocess.Popen(command, stdout=subprocess.DEVNULL)
    most = 0.0
    while child.poll() is None:
        most = max(most, anonymous(child.pid))
        time.sleep(0.002)
    return most


def in_turn(commands: dict[str, list[str]], times: int) -> dict[str, tuple[float, float]]:
    """Median time, and the greatest memory of two runs more, of each."""
    memory = {name: max(peak(command) for _ in range(2)) for name, command in commands.items()}
    seen: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(times):
        for name, command in commands.items():
            seen[name].append(took(command))
    return {name: (statistics.median(all_), memory[name]) for name, all_ in seen.items()}


def table(title: str, file: pathlib.Path, results: dict[str, tuple[float, float]], ours: str) -> None:
    size = file.stat().st_size / 1e6
    print(f"\n{title}: {size:.0f} MB")
    print("| | seconds | review / this | anonymous MB | of the file |")
    print("| --- | ---: | ---: | ---: | ---: |")
    for name, (seconds, memory) in results.items():
        print(f"| {name} | {seconds:.2f} | {results[ours][0] / seconds:.2f} | {memory:.0f} | {memory / size:.2f} |")


def decided(command: list[str]) -> str:
    """How many checks of a review decided, and how many channels it used."""
    review = json.loads(subprocess.run(command, capture_output=True, check=False).stdout)
    checks = review["checks"]
    count = sum(c["verdict"] != "not-run" for c in checks)
    return f"{count} of {len(checks)} checks decide; {len(review['log']['channels'])} channels, {review['log']['rows']} rows"


def main() -> None:
    ask = argparse.ArgumentParser()
    ask.add_argument("--rows", type=int, default=360_000)
    ask.add_argument("--times", type=int, default=7)
    ask.add_argument("--huge", action="store_true", help="also a log of more than 5 GB")
    told = ask.parse_args()
    subprocess.run(["cargo", "build", "--release", "--bins", "--example", "limit"], cwd=HOME, check=True)
    target = pathlib.Path(os.environ.get("CARGO_TARGET_DIR", HOME / "target")) / "release"
    program = str(target / "plugread")

    def review(log: pathlib.Path) -> list[str]:
        return [program, "review", str(log), "--sheet", str(SHEET), "--format", "json"]

    print(f"{platform.machine()}, {os.cpu_count()} cores, {time.strftime('%Y-%m-%d')}")
    with tempfile.TemporaryDirectory() as folder:
        log = pathlib.Path(folder) / "large.csv"
        make(log, told.rows)
        print(decided(review(log)))
        commands = {"plugread review, all checks": review(log)}
        commands |= {name: [sys.executable, "-c", code, str(log)] for name, code in READERS.items()}
        results = in_turn(commands, told.times)
        table("Large log", log, results, "plugread review, all checks")
        limit = subprocess.run([str(target / "examples" / "limit"), str(log)], capture_output=True, text=True, check=True)
        least = float(limit.stdout.split()[0])
        ours = results["plugread review, all checks"][0]
        print(f"Reading its bytes and counting its lines, best of five: {least:.3f} s; the review takes {ours / least:.1f} times that.")

        packed: dict[str, list[str]] = {"the log itself": review(log)}
        for kind in ("parquet", "arrow"):
            out = log.with_suffix(f".{kind}")
            subprocess.run([program, "convert", str(log), "--to", kind, "--sheet", str(SHEET), "--out", str(out)], check=True, stdout=subprocess.DEVNULL)
            packed[f"converted to {kind}, {out.stat().st_size / 1e6:.0f} MB"] = review(out)
        if shutil.which("gzip"):
            subprocess.run(["gzip", "-k", "-1", str(log)], check=True)
            packed["packed with gzip"] = review(log.with_suffix(".csv.gz"))
        table("The same log in other forms", log, in_turn(packed, 3), "the log itself")

        small = pathlib.Path(folder) / "small.csv"
        make(small, 950)
        small_took = statistics.median(took(review(small)) for _ in range(20))
        print(f"\nA log of {small.stat().st_size / 1e6:.2f} MB: {1000 * small_took:.0f} ms, process start included (median of 20).")

        if told.huge:
            log.with_suffix(".csv.gz").unlink(missing_ok=True)
            huge = pathlib.Path(folder) / "huge.csv"
            make(huge, 14 * told.rows)
            # The look at its memory comes first: by then the file is where the others have theirs, in memory.
            sizes = in_turn({"huge": review(huge), "large": review(log)}, 3)
            (huge_took, most), (base, _) = sizes["huge"], sizes["large"]
            size, small_size = huge.stat().st_size, log.stat().st_size
            print(
                f"\nA log of {size / 1e9:.2f} GB, {size / small_size:.1f} times as large: {huge_took:.1f} s (median of 3), "
                f"{huge_took / base:.1f} times as long; {most:.0f} MB anonymous, {most * 1e6 / size:.2f} of the file."
            )
            print(decided(review(huge)))


if __name__ == "__main__":
    main()
