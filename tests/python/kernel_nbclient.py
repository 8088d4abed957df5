"""A notebook run by `nbclient` and turned into a page by `nbconvert`: the values in its outputs are what they must be."""

import csv
import re
import statistics

import nbformat
from nbclient import NotebookClient
from nbclient.exceptions import CellExecutionError
from nbconvert import HTMLExporter
from nbformat.v4 import new_code_cell, new_markdown_cell, new_notebook

from kernel_home import SAMPLES, installed

installed()

LOG = f"{SAMPLES}/first-start-dead-cylinder.csv"
CELLS = [
    f'let run = open("{LOG}", "{SAMPLES}/hill-special.toml");',
    "run.battery_v.max().value",
    "run.egt",
    'run.egt.during(run.during("running")).from_bank_median().odd_one_out().cylinder',
    "let r = review(run); r",
    'print(r.finding("first-fire").reason)',
    "plot(run.egt, r.finding(\"first-fire\").spans)",
    "table(run.egt)",
]


def book(cells):
    made = new_notebook(cells=[new_markdown_cell("# A walk"), *map(new_code_cell, cells)])
    made.metadata["kernelspec"] = {"name": "plugread", "display_name": "plugread", "language": "plugread"}
    return made


def logged(heading):
    """What Python's own reader finds in the log."""
    with open(LOG, newline="", encoding="utf-8") as file:
        rows = list(csv.reader(file))[2:]
    at = rows[0].index(heading)
    return [float(row[at]) for row in rows[1:] if len(row) > at and row[at].strip()]


def data(cell):
    for output in cell.outputs:
        if output.output_type == "execute_result":
            return output.data
    raise AssertionError(f"no result: {cell.outputs}")


def main():
    done = NotebookClient(book(CELLS), timeout=60, kernel_name="plugread").execute()
    nbformat.validate(done)
    cells = [c for c in done.cells if c.cell_type == "code"]
    assert cells[0].outputs == []
    assert abs(float(data(cells[1])["text/plain"]) - max(logged("Battery (V)"))) < 1e-9
    family = data(cells[2])
    assert set(family) == {"text/plain", "text/html", "image/svg+xml", "image/png"}, set(family)
    assert family["image/svg+xml"].count(", cylinder ") >= 6
    greatest = max(logged("EGT Cyl 4 (degC)"))
    row = re.search(r"egt_4\s+degC\s+(\d+)\s+(\d+)\s+(\d+)", family["text/plain"])
    assert int(row[3]) == round(greatest), (row[0], greatest)
    assert int(row[2]) == round(statistics.median(logged("EGT Cyl 4 (degC)"))), row[0]
    assert data(cells[3])["text/plain"] == "4"
    assert "WARN" in data(cells[4])["text/plain"] and "Look at this first" in data(cells[4])["text/html"]
    assert "cylinder 4 did not light" in cells[5].outputs[0].text
    assert data(cells[6])["image/svg+xml"].startswith("<svg xmlns=")
    assert 'style="text-align:right"' in data(cells[7])["text/html"]

    page, _ = HTMLExporter().from_notebook_node(done)
    assert "Look at this first" in page and "cylinder 4 did not light" in page

    wrong = book(["let a = 1;", "run.rpm", "print(a)"])
    try:
        NotebookClient(wrong, timeout=60, kernel_name="plugread").execute()
    except CellExecutionError as error:
        assert "nothing is called `run`" in str(error), error
    else:
        raise AssertionError("a failing cell was passed over")
    assert wrong.cells[3].outputs == [], "it went on after the error"
    print("notebooks: nbclient and nbconvert ran 8 cells, their values are those of the log")


if __name__ == "__main__":
    main()
