"""The notebooks that ship: valid by the official schema, run by `nbclient` with the real kernel from where they stand, turned
into pages by `nbconvert`. Values that they show are those that pandas finds in the logs."""

import pathlib
import re

import nbformat
import pandas
from nbclient import NotebookClient
from nbconvert import HTMLExporter

from kernel_home import HOME, SAMPLES, installed

installed()
FOLDER = HOME / "scripts" / "notebooks"


def ran(name):
    book = nbformat.read(FOLDER / f"{name}.ipynb", as_version=nbformat.NO_CONVERT)
    assert (book.nbformat, book.nbformat_minor) == (4, 5)
    nbformat.validate(book)
    code = [c for c in book.cells if c.cell_type == "code"]
    assert all(c.outputs == [] and c.execution_count is None for c in code), f"{name} has outputs stored"
    client = NotebookClient(book, timeout=120, resources={"metadata": {"path": str(FOLDER)}})
    done = client.execute()
    nbformat.validate(done)
    page, _ = HTMLExporter().from_notebook_node(done)
    assert "<svg" in page and done.cells[0].source.splitlines()[0][2:] in page
    return {c.id: c for c in done.cells}


def table(cells, key):
    """A table that a cell shows, by its heads."""
    plain = cells[key].outputs[-1].data["text/plain"]
    heads, *rows = [re.split(r"\s{2,}", line.strip()) for line in plain.splitlines()]
    return [dict(zip(heads, row, strict=True)) for row in rows]


def log(name):
    return pandas.read_csv(pathlib.Path(SAMPLES) / f"{name}.csv", skiprows=2)


def near(shown, wanted, off):
    assert abs(float(shown) - wanted) <= off, f"{shown} is shown, and the log says {wanted}"


def running(data):
    turns = data[data["Engine Speed (rpm)"] > 500]["Time (s)"]
    return turns.iloc[0], turns.iloc[-1]


def first_start():
    cells, data = ran("first-start"), log("first-start")
    for row in table(cells, "cylinders-figures"):
        near(row["greatest, degC"], data[f"EGT Cyl {row['cylinder']} (degC)"].max(), 0.51)
    coolant = table(cells, "heat-figures")[0]
    near(coolant["greatest, degC"], data["Coolant Temp (degC)"].max(), 0.51)
    near(coolant["at_the_end, degC"], data["Coolant Temp (degC)"].dropna().iloc[-1], 0.51)
    near(table(cells, "recording-figures")[0]["to, s"], data["Time (s)"].iloc[-1], 0.51)


def cylinders():
    cells, data = ran("cylinders"), log("first-start-dead-cylinder")
    begin, end = running(data)
    inside = data[data["Time (s)"].between(begin + 30, end)]
    for row in table(cells, "offsets"):
        near(row["median, degC"], inside[f"EGT Cyl {row['cylinder']} (degC)"].median(), 2.0)
    assert table(cells, "odd")[0]["furthest"] == "cylinder 4"


def charging():
    cells, data = ran("charging"), log("hill-run-fading-alternator")
    begin, end = running(data)
    at, volts = data["Time (s)"], data["Battery (V)"]
    shown = table(cells, "lost")[0]
    near(shown["first_minute, V"], volts[at.between(begin + 10, begin + 70)].median(), 0.02)
    near(shown["last_minute, V"], volts[at.between(end - 60, end)].median(), 0.02)


def knock():
    cells, data = ran("knock"), log("hill-run-knock")
    for row in table(cells, "counts-figures"):
        counts = data[f"Knock Cyl {row['cylinder']}"].dropna()
        near(row["counted"], counts.iloc[-1] - counts.iloc[0], 0)
    assert table(cells, "most")[0]["cylinder"] == "4"


if __name__ == "__main__":
    shipped = {"first-start": first_start, "cylinders": cylinders, "charging": charging, "knock": knock}
    found = {path.stem for path in FOLDER.glob("*.ipynb")}
    assert found == set(shipped), f"{found} ship, {set(shipped)} are tested"
    for name, check in shipped.items():
        check()
        print(f"notebook {name}: valid, run by nbclient, values as in the log, a page by nbconvert")
