"""The JSON of a review against its published schema, by the reference validator of JSON Schema (draft 2020-12).

Every sample log, one by one and several in one call. The schema lets readers pass over keys that are added later; here the
same schema is also taken as complete, so that a key which it does not describe is found.
"""

import copy
import json
import os
import pathlib
import subprocess
import tempfile

import jsonschema

HOME = pathlib.Path(__file__).resolve().parents[2]
SCHEMA = json.loads((HOME / "src" / "reports" / "review.schema.json").read_text())
LOGS = sorted((HOME / "sample-logs").glob("*.csv"))


def complete(schema: dict) -> dict:
    """The same schema, with no other keys than those it names."""
    out = copy.deepcopy(schema)

    def close(node) -> None:
        if isinstance(node, dict):
            if "required" in node and "properties" in node:
                node["additionalProperties"] = False
            for inner in node.values():
                close(inner)
        elif isinstance(node, list):
            for inner in node:
                close(inner)

    close(out)
    return out


def review(*args: str) -> list[dict]:
    command = [os.environ["PLUGREAD"], "review", *args, "--format", "json"]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    assert done.returncode in (0, 1), done.stderr
    whole = done.stdout
    # One log is written over several lines, several logs are a line each.
    return [json.loads(whole)] if len([a for a in args if a.endswith(".csv")]) == 1 else [json.loads(line) for line in whole.splitlines()]


def starved(folder: pathlib.Path) -> str:
    """A log in which the oil pressure goes at speed: a review of it says stop."""
    rows = ["Time (s),Engine Speed (rpm),Oil Press (kPa)"]
    for i in range(6000):
        t = i / 50
        rpm = 0 if t < 5 else 1000 if t < 15 else 3000 + 20 * (i % 7)
        oil = 0 if t < 6 else 300 if t < 60 else 5 + i % 3
        rows.append(f"{t:.2f},{rpm},{oil}")
    path = folder / "starved.csv"
    path.write_text("\n".join(rows) + "\n")
    return str(path)


def main() -> None:
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    open_, strict = (jsonschema.Draft202012Validator(s) for s in (SCHEMA, complete(SCHEMA)))
    sheet = ["--sheet", str(HOME / "sample-logs" / "hill-special.toml")]
    seen = []
    for log in LOGS:
        seen += review(str(log), *sheet) + review(str(log))
    together = review(*map(str, LOGS), *sheet)
    assert len(together) == len(LOGS)
    seen += together
    with tempfile.TemporaryDirectory() as folder:
        seen += review(starved(pathlib.Path(folder)), *sheet)
    for one in seen:
        open_.validate(one)
        strict.validate(one)
    # The validator does find what is wrong.
    wrong = copy.deepcopy(seen[0])
    wrong["checks"][0]["verdict"] = "fine"
    assert not open_.is_valid(wrong)
    added = {**seen[0], "later": 1}
    assert open_.is_valid(added) and not strict.is_valid(added)
    # All kinds of values were met, or the test would say little.
    kinds = {c["verdict"] for one in seen for c in one["checks"]}
    assert kinds == {"pass", "warn", "not-run"}, kinds
    assert any(one["stop_now"] for one in seen) and any(one["diagnosis"] for one in seen)
    print(f"schema: {len(seen)} reviews of {len(LOGS)} logs fit it, and it names every key")


if __name__ == "__main__":
    main()
