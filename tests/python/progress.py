"""Progress of long work: one line on a terminal, gone when the work is done; nothing at all where nobody watches.

The terminal is a pseudo-terminal of the operating system.
"""

import os
import pathlib
import pty
import re
import shutil
import signal
import subprocess
import tempfile
import time

HOME = pathlib.Path(__file__).resolve().parents[2]
PROGRAM = os.environ["PLUGREAD"]
LOGS = sorted((HOME / "sample-logs").glob("*.csv"))
CLEAR = "\r\x1b[K"


def on_terminal(args: list[str], term: str = "xterm", stdout_too: bool = False, interrupt: bool = False, **more: str) -> tuple[int, str]:
    """The program with its stderr on a terminal: exit code, and what the terminal was sent."""
    ours, theirs = pty.openpty()
    env = {**os.environ, "TERM": term, **more}
    child = subprocess.Popen(
        [PROGRAM, *args], stderr=theirs, stdout=theirs if stdout_too else subprocess.DEVNULL, env=env
    )
    os.close(theirs)
    sent = b""
    while True:
        try:
            got = os.read(ours, 65536)
        except OSError:
            break
        if not got:
            break
        sent += got
        if interrupt and b"MB read" in sent:
            child.send_signal(signal.SIGINT)
            interrupt = False
    os.close(ours)
    return child.wait(), sent.decode()


def left(sent: str) -> str:
    """What a person still sees of it: each line as it stands after the last return to its start."""
    lines = []
    for line in sent.replace("\r\n", "\n").split("\n"):
        lines.append(line.rsplit("\r", 1)[-1].replace("\x1b[K", ""))
    return "\n".join(lines)


def long_log(path: pathlib.Path) -> None:
    """Hours of a sample log, over and over: the clock goes on."""
    lines = (HOME / "sample-logs" / "hot-standstill.csv").read_text().splitlines()
    names = next(i for i, line in enumerate(lines) if line.startswith("Time (s)"))
    head, rows = lines[names], lines[names + 1 :]
    cells = [row.split(",", 1) for row in rows]
    times = [float(c[0]) for c in cells if c[0].replace(".", "").isdigit()]
    rest = [c[1] for c in cells if c[0].replace(".", "").isdigit()]
    length = times[-1] + 0.02
    with path.open("w") as out:
        out.write(head + "\n")
        for turn in range(60):
            out.writelines(f"{turn * length + t:.3f},{r}\n" for t, r in zip(times, rest))


def main() -> None:
    with tempfile.TemporaryDirectory() as name:
        folder = pathlib.Path(name)
        logs = folder / "logs"
        logs.mkdir()
        for turn in range(12):
            for log in LOGS:
                shutil.copy(log, logs / f"{turn}-{log.name}")
        count = 12 * len(LOGS)
        started = time.monotonic()
        code, sent = on_terminal(["review", str(logs)])
        assert time.monotonic() - started > 0.8, "too quick to show anything: make it longer"
        assert code == 1, sent
        shown = re.findall(r"\rreviewing (\S+) \((\d+) of (\d+)\), ", sent)
        assert len(shown) > 1 and all(s[2] == str(count) for s in shown), sent
        assert [int(s[1]) for s in shown] == sorted(int(s[1]) for s in shown)
        assert sent.endswith(CLEAR) and left(sent) == "", repr(sent[-80:])
        # Where the review itself goes to the same terminal, the line is gone before it.
        code, sent = on_terminal(["review", str(logs)], stdout_too=True)
        assert "reviewing" in sent and "reviewing" not in left(sent)
        # Nobody watches, or the terminal cannot take a line back.
        done = subprocess.run([PROGRAM, "review", str(logs)], capture_output=True, text=True, check=False)
        assert done.stderr == "" and "\x1b" not in done.stdout, done.stderr
        assert on_terminal(["review", str(logs)], term="dumb") == (1, "")
        _, sent = on_terminal(["review", str(logs)], NO_COLOR="1")
        assert not re.search(r"\x1b\[[0-9;]*m", sent)

        long = folder / "long.csv"
        long_log(long)
        for args in (["review", str(long)], ["convert", "--to", "parquet", "--out", str(folder / "long.parquet"), str(long)]):
            code, sent = on_terminal(args)
            assert code in (0, 1), sent
            assert re.search(r"\r(reviewing|converting) long\.csv, \d+ MB read, \d+ s", sent), sent
            assert left(sent) == "", repr(sent)
        # Ctrl-C takes the line back, too, and leaves no file.
        out = folder / "stopped.parquet"
        code, sent = on_terminal(["convert", "--to", "parquet", "--out", str(out), str(long)], interrupt=True)
        assert code == 130 and left(sent) == "", (code, sent)
        assert not [p.name for p in folder.iterdir() if p.name.startswith("stopped")]

        notes = [str(HOME / "scripts" / "notebooks" / "charging.ipynb"), "--log", str(logs), "--sheet", str(HOME / "sample-logs" / "hill-special.toml"), "--out", str(folder / "page.html")]
        code, sent = on_terminal(["notebook", *notes])
        assert "\rrunning over " in sent and left(sent) == "", sent[-300:]
    print(f"progress: seen on a terminal over {count} logs and a long one, and gone afterwards")


if __name__ == "__main__":
    main()
