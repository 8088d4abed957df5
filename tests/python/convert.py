"""Converted sample logs in other programs' hands: pyarrow, Polars and DuckDB must find the right names, types, values,
units and original headers. What is right is read from the CSV by Python's own csv module.

Run by `tests/python/run`, which names the program in PLUGREAD.
"""

import csv
import os
import subprocess
import sys
import tempfile
from pathlib import Path

import duckdb
import numpy as np
import polars as pl
import pyarrow as pa
import pyarrow.parquet

PROGRAM = os.environ["PLUGREAD"]
SAMPLES = Path(__file__).resolve().parents[2] / "sample-logs"
# Lines before the names in each sample log.
PREAMBLE = 2

# Headings of the sample logs, with the name and unit under which each must come out.
NAMES = {
    "Engine Speed (rpm)": ("rpm", "rpm"),
    "MAP (kPa)": ("map", "kPa"),
    "Battery (V)": ("battery_v", "V"),
    "Coolant Temp (degC)": ("coolant_temp", "degC"),
    "Oil Press (kPa)": ("oil_pressure", "kPa"),
    "EGT Cyl 3 (degC)": ("egt_3", "degC"),
    "Knock Cyl 4": ("knock_4", ""),
    "Fuel Cut": ("fuel_cut", ""),
    "Lateral G (g)": ("lateral_g", "g"),
    "Aux 7": ("Aux 7", ""),
    "Spare Byte 2": ("Spare Byte 2", ""),
}


def truth(path):
    """Columns of a sample log as floats, missing cells as NaN."""
    with open(path, newline="") as file:
        rows = list(csv.reader(file))[PREAMBLE:]
    names, rows = rows[0], rows[1:]
    return {name: np.array([float(r[n]) if r[n] else np.nan for r in rows]) for n, name in enumerate(names)}


def told(field):
    """All that the metadata of a field says, as text."""
    return " ".join(f"{k.decode()}={v.decode()}" for k, v in (field.metadata or {}).items())


def check(sample, folder):
    faults = []
    want = truth(sample)
    for form, ending in [("parquet", "parquet"), ("arrow", "arrow")]:
        out = folder / f"{sample.stem}.{ending}"
        done = subprocess.run(
            [PROGRAM, "convert", str(sample), "--to", form, "--out", str(out)], capture_output=True, text=True, timeout=120
        )
        if done.returncode != 0:
            return [f"convert to {form} ends with {done.returncode}: {done.stderr.strip()}"]
        if form == "parquet":
            table = pa.parquet.read_table(out)
            frame = pl.read_parquet(out)
            base = duckdb.sql(f"select * from read_parquet('{out}')")
            rows = duckdb.sql(f"select count(*), max(rpm), avg(rpm) from read_parquet('{out}')").fetchall()[0]
        else:
            table = held = pa.ipc.open_file(out).read_all()
            frame = pl.read_ipc(out)
            base = duckdb.sql("select * from held")
            rows = duckdb.sql("select count(*), max(rpm), avg(rpm) from held").fetchall()[0]
        rpm = want["Engine Speed (rpm)"]
        if rows[0] != len(rpm) or rows[1] != np.nanmax(rpm) or abs(rows[2] - np.nanmean(rpm)) > 1e-9 * rows[2]:
            faults.append(f"{form}: DuckDB counts {rows}")
        if len(base.columns) != len(table.schema.names) or len(frame.columns) != len(base.columns):
            faults.append(f"{form}: the three do not see the same columns")
        if len(table.schema.names) < len(want):
            faults.append(f"{form}: {len(table.schema.names)} columns of {len(want)}: {table.schema.names}")
        clock = np.array(table.column("time"), dtype=float)
        if not np.allclose(clock, want["Time (s)"], rtol=0, atol=1e-9):
            faults.append(f"{form}: other times")
        for heading, (name, unit) in NAMES.items():
            if name not in table.schema.names:
                faults.append(f"{form}: no {name}")
                continue
            field = table.schema.field(name)
            if not (pa.types.is_floating(field.type) or pa.types.is_integer(field.type) or pa.types.is_boolean(field.type)):
                faults.append(f"{form}: {name} is {field.type}")
            said = told(field)
            if heading not in said or (unit and unit not in said):
                faults.append(f"{form}: the metadata of {name} say `{said}`")
            for reader, values in [
                ("pyarrow", table.column(name).to_pandas().to_numpy(dtype=float)),
                ("Polars", frame[name].cast(pl.Float64).to_numpy()),
            ]:
                if not np.array_equal(values, want[heading], equal_nan=True):
                    faults.append(f"{form}: {reader} reads other values of {name}")
            if table.column(name).null_count != np.isnan(want[heading]).sum():
                faults.append(f"{form}: {name} has {table.column(name).null_count} nulls")
    return faults


def main():
    faults = []
    samples = sorted(SAMPLES.glob("*.csv"))
    with tempfile.TemporaryDirectory() as place:
        for sample in samples:
            faults += [f"{sample.name}: {fault}" for fault in check(sample, Path(place))]
    for fault in faults[:30]:
        print(fault)
    print(f"conversions: {len(samples)} logs, {len(faults)} faults")
    return bool(faults) or not samples


if __name__ == "__main__":
    sys.exit(main())
