"""Frames written by pandas and by Polars in many ways must come back from `plugread convert` with the same values.

Run by `tests/python/run`, which names the program in PLUGREAD.
"""

import csv
import os
import random
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd
import polars as pl
import zstandard

PROGRAM = os.environ["PLUGREAD"]
ROWS = 400
PANDAS_FILES = 150
POLARS_FILES = 80

# Column as written, and the name under which it must come back.
NAMES = {
    "rpm": "rpm",
    "MAP (kPa)": "map",
    "Battery (V)": "battery_v",
    "Coolant Temp (degC)": "coolant_temp",
    "EGT Cyl 1 (degC)": "egt_1",
    "EGT Cyl 2 (degC)": "egt_2",
    "Gear": "gear",
    "Aux 7": "Aux 7",
}


def made(seed):
    """A run of twenty rows a second: whole numbers, fractions of all sizes, and cells that are missing."""
    rng = np.random.default_rng(seed)
    n = np.arange(ROWS)
    frame = pd.DataFrame(
        {
            "rpm": np.round(900 + 3000 * (1 + np.sin(n / 40)) + rng.normal(0, 30, ROWS)),
            "MAP (kPa)": 60 + 30 * np.sin(n / 37) + rng.normal(0, 1, ROWS),
            "Battery (V)": 13.8 + rng.normal(0, 0.05, ROWS),
            "Coolant Temp (degC)": 60 + n / 40 + rng.normal(0, 0.2, ROWS),
            "EGT Cyl 1 (degC)": 600 + rng.normal(0, 5, ROWS),
            "EGT Cyl 2 (degC)": 610 + rng.normal(0, 5, ROWS),
            "Gear": (n // 100).astype(float),
            "Aux 7": rng.normal(0, 1e-3, ROWS),
        }
    )
    # Slow channels leave cells out; the first row is whole.
    for column, every in [("Coolant Temp (degC)", 10), ("EGT Cyl 1 (degC)", 2), ("Aux 7", 3)]:
        frame.loc[n % every != 0, column] = np.nan
    return frame


def convert(path, folder):
    """The file as Parquet, read back, or a sentence about why not."""
    out = folder / "out.parquet"
    out.unlink(missing_ok=True)
    done = subprocess.run(
        [PROGRAM, "convert", str(path), "--to", "parquet", "--out", str(out)], capture_output=True, text=True, timeout=120
    )
    if done.returncode != 0 or not out.exists():
        return None, f"convert ends with {done.returncode}: {done.stderr.strip()}"
    return pl.read_parquet(out), None


def same(frame, seconds, back):
    """What differs, or None. Figures must be the same to the last bit."""
    if back.height != len(frame):
        return f"{back.height} rows instead of {len(frame)}"
    if "time" not in back.columns:
        return f"no time among {back.columns}"
    time = back["time"].to_numpy()
    if not np.allclose(time - time[0], seconds - seconds[0], rtol=0, atol=1e-5):
        worst = int(np.argmax(np.abs(time - time[0] - (seconds - seconds[0]))))
        return f"time of row {worst} is {time[worst]} instead of {seconds[worst]}"
    for column, name in NAMES.items():
        if name not in back.columns:
            return f"no {name} among {back.columns}"
        got = back[name].cast(pl.Float64).to_numpy()
        want = frame[column].to_numpy(dtype=float)
        got = np.where(np.isnan(got), np.nan, got)
        if not np.array_equal(got, want, equal_nan=True):
            worst = int(np.argmax(~((got == want) | (np.isnan(got) & np.isnan(want)))))
            return f"{name} of row {worst} is {got[worst]!r} instead of {want[worst]!r}"
    return None


def rounded(frame, float_format):
    """What is left of the figures once they are printed."""
    if float_format is None:
        return frame
    return frame.map(lambda v: v if pd.isna(v) else float(float_format % v))


def pandas_case(rng, folder, seed):
    frame = made(seed)
    sep = rng.choice([",", ";", "\t", "|"])
    options = {
        "sep": sep,
        "decimal": "." if sep == "," else rng.choice([".", ","]),
        "quoting": rng.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL, csv.QUOTE_NONNUMERIC]),
        "na_rep": rng.choice(["", "NaN", "---", "n/a", "-", "nan", "NULL"]),
        "lineterminator": rng.choice(["\n", "\r\n", "\r"]),
        "float_format": rng.choice([None, None, "%.3f", "%.6e", "%.17g", "%+.4f"]),
        "encoding": rng.choice(["utf-8", "utf-8-sig", "utf-16", "latin-1", "cp1252"]),
        "index": rng.random() < 0.2,
    }
    packing = rng.choice([None, None, "gzip", "zip", "zstd"])
    clock = rng.choice(["seconds", "milliseconds", "datetime", "iso", "epoch"])
    seconds = np.round(np.arange(ROWS) * 0.05, 2)
    written = rounded(frame, options["float_format"])
    stamped = frame.copy()
    when = pd.Timestamp("2025-06-14 15:59:00") + pd.to_timedelta(np.arange(ROWS) * 50, unit="ms")
    if clock == "seconds":
        stamped.insert(0, "time (s)", seconds)
    elif clock == "milliseconds":
        stamped.insert(0, "time (ms)", np.arange(ROWS) * 50)
    elif clock == "datetime":
        stamped.insert(0, "Timestamp", when.strftime("%Y-%m-%d %H:%M:%S.%f"))
    elif clock == "iso":
        stamped.insert(0, "Timestamp", when.tz_localize("UTC").map(lambda t: t.isoformat(timespec="milliseconds")))
    else:
        stamped.insert(0, "Timestamp (ms)", 1_749_916_740_000 + np.arange(ROWS) * 50)
    if options["float_format"] is not None and clock == "seconds":
        # Two decimals are enough for this clock in all of these formats but one, which then rounds.
        seconds = np.array([float(options["float_format"] % s) for s in seconds])
    if options["encoding"] in ("latin-1", "cp1252", "utf-8"):
        stamped = stamped.rename(columns={"Coolant Temp (degC)": "Coolant Temp (\u00b0C)"})
    ending = {"gzip": ".gz", "zip": ".zip", "zstd": ".zst"}.get(packing, "")
    path = folder / f"run.csv{ending}"
    if packing == "zip":
        options["compression"] = {"method": "zip", "archive_name": "run.csv"}
    else:
        options["compression"] = packing
    stamped.to_csv(path, **options)
    return f"pandas {clock} {options}", path, written, seconds


def polars_case(rng, folder, seed):
    frame = made(seed)
    separator = rng.choice([",", ";", "\t", "|"])
    options = {
        "separator": separator,
        "line_terminator": rng.choice(["\n", "\r\n"]),
        "quote_style": rng.choice(["necessary", "always", "non_numeric"]),
        "null_value": rng.choice(["", "NaN", "---", "n/a", "-"]),
        "include_bom": rng.random() < 0.3,
        "float_precision": rng.choice([None, None, 3, 6]),
    }
    if separator != ",":
        options["decimal_comma"] = rng.random() < 0.5
    clock = rng.choice(["seconds", "datetime"])
    seconds = np.round(np.arange(ROWS) * 0.05, 2)
    table = pl.from_pandas(frame, nan_to_null=True)
    if clock == "seconds":
        stamps = pl.Series("time (s)", seconds)
    else:
        when = pd.Timestamp("2025-06-14 23:59:50") + pd.to_timedelta(np.arange(ROWS) * 50, unit="ms")
        stamps = pl.Series("Timestamp", when.to_numpy()).cast(pl.Datetime("ms"))
        options["datetime_format"] = rng.choice(["%Y-%m-%d %H:%M:%S%.3f", "%Y-%m-%dT%H:%M:%S%.3fZ", "%d.%m.%Y %H:%M:%S%.3f"])
    table = table.insert_column(0, stamps)
    packing = rng.choice([None, None, "gzip", "zstd"])
    plain = folder / "run.csv"
    table.write_csv(plain, **options)
    path = plain
    if packing == "gzip":
        import gzip

        path = folder / "run.csv.gz"
        path.write_bytes(gzip.compress(plain.read_bytes()))
    elif packing == "zstd":
        path = folder / "run.csv.zst"
        path.write_bytes(zstandard.compress(plain.read_bytes()))
    precision = options["float_precision"]
    written = rounded(frame, None if precision is None else f"%.{precision}f")
    return f"polars {clock} {packing} {options}", path, written, seconds


def main():
    rng = random.Random(20250614)
    faults = []
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        cases = [pandas_case] * PANDAS_FILES + [polars_case] * POLARS_FILES
        for n, case in enumerate(cases):
            told, path, frame, seconds = case(rng, folder, n)
            back, fault = convert(path, folder)
            fault = fault or same(frame, seconds, back)
            if fault:
                faults.append(f"{told}: {fault}")
    for fault in faults[:20]:
        print(fault)
    print(f"round trips: {len(cases) - len(faults)} of {len(cases)} files came back the same")
    return bool(faults)


if __name__ == "__main__":
    sys.exit(main())
