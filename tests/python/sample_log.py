"""A sample log as pandas reads it: channels, stretches of time, and when the engine turned, was cranked and ran.

For checks of what the program says of the same file; nothing of the program is used here.
"""

import pathlib
import tomllib

import numpy
import pandas

HOME = pathlib.Path(__file__).resolve().parents[2]
SAMPLES = HOME / "sample-logs"
SHEET = tomllib.loads((SAMPLES / "hill-special.toml").read_text())
LINES_OVER_NAMES = 2
SAME = 1e-9  # s: the clock is in hundredths


class Channel:
    """The readings of one column: those cells that hold a number."""

    def __init__(self, times, values):
        self.t, self.v = numpy.asarray(times, float), numpy.asarray(values, float)

    def during(self, spans):
        keep = numpy.zeros(len(self.t), bool)
        for start, end in spans:
            keep |= (self.t >= start - SAME) & (self.t <= end + SAME)
        return Channel(self.t[keep], self.v[keep])

    def step(self):
        return float(numpy.median(numpy.diff(self.t)))

    def spans(self, wanted):
        """Where a condition on the value holds: a reading stands until the next one."""
        out, since = [], None
        for time, on in zip(self.t, wanted(self.v), strict=True):
            if on and since is None:
                since = time
            elif not on and since is not None:
                out.append((since, time))
                since = None
        if since is not None:
            out.append((since, self.t[-1]))
        return out

    def rolling_median(self, seconds):
        """Over a centred window, both ends of it included, cut short at the ends of the channel."""
        first = numpy.searchsorted(self.t, self.t - seconds / 2 - SAME, "left")
        last = numpy.searchsorted(self.t, self.t + seconds / 2 + SAME, "right")
        return Channel(self.t, [numpy.median(self.v[a:b]) for a, b in zip(first, last, strict=True)])

    def means(self, seconds):
        """Means of blocks that begin where the one before ended; itself where readings come more seldom."""
        if self.step() >= seconds - SAME:
            return self
        times, values, at = [], [], 0
        while at < len(self.t):
            end = int(numpy.searchsorted(self.t, self.t[at] + seconds - SAME, "left"))
            times.append(self.t[at:end].mean())
            values.append(self.v[at:end].mean())
            at = end
        return Channel(times, values)

    def blocks(self, seconds):
        """Medians of stretches of that length, at their middles; a last one of less than half of it is left out."""
        times, values, at = [], [], 0
        while at < len(self.t):
            end = int(numpy.searchsorted(self.t, self.t[at] + seconds - SAME, "left"))
            if self.t[end - 1] - self.t[at] >= seconds / 2:
                times.append((self.t[at] + self.t[end - 1]) / 2)
                values.append(numpy.median(self.v[at:end]))
            at = end
        return Channel(times, values)

    def at(self, times):
        """The last reading at or before each time."""
        place = numpy.searchsorted(self.t, numpy.asarray(times) + SAME, "right") - 1
        return numpy.where(place < 0, numpy.nan, self.v[numpy.maximum(place, 0)])


def intersect(a, b):
    found = [(max(s, p), min(e, q)) for s, e in a for p, q in b]
    return sorted(s for s in found if s[1] > s[0])


def without(a, b):
    for start, end in b:
        a = [p for s, e in a for p in ((s, min(e, start)), (max(s, end), e)) if p[1] > p[0]]
    return a


def total(spans):
    return float(sum(e - s for s, e in spans))


def after_first(spans, seconds):
    return [(s + seconds, e) for s, e in spans if e - s > seconds]


def joined(spans, seconds):
    out = []
    for start, end in sorted(spans):
        if out and start - out[-1][1] <= seconds + SAME:
            out[-1] = (out[-1][0], max(end, out[-1][1]))
        else:
            out.append((start, end))
    return out


class Log:
    """A sample log as this script reads it."""

    def __init__(self, path):
        self.table = pandas.read_csv(path, skiprows=LINES_OVER_NAMES)
        self.time = self.table["Time (s)"].to_numpy()
        self.rpm = self["Engine Speed (rpm)"]
        idle = SHEET["engine"]["idle_rpm"]
        # Turning: from 30 rpm on until under 15. Running: from 0.6 of idle on, not while the starter still pulls at under
        # 0.9 of idle, until under 0.4 of it; for a second at least.
        self.turning = self.between(30, 15)
        starter = self["Starter"].spans(lambda v: v > 0.5)
        helped = intersect(starter, self.rpm.spans(lambda v: v < 0.9 * idle))
        self.running = [s for s in without(self.between(0.6 * idle, 0.4 * idle), helped) if s[1] - s[0] >= 1]
        assert len(self.running) == 1, "each sample log has one start"
        self.start, self.end = self.running[0]
        # Cranking: turning that no running came before.
        before = [(self.time[0], self.start)]
        self.starter = intersect(starter, before)
        self.cranking = [(min(self.turning[0][0], self.starter[0][0]), self.start)]
        self.rest = [(self.rpm.t[0], self.cranking[0][0])]

    def __getitem__(self, name):
        cells = pandas.to_numeric(self.table[name], errors="coerce")
        known = cells.notna()
        return Channel(self.time[known], cells[known])

    def between(self, enter, leave):
        out, since = [], None
        for time, value in zip(self.rpm.t, self.rpm.v, strict=True):
            if since is None and value >= enter:
                since = time
            elif since is not None and value < leave:
                out.append((since, time))
                since = None
        return out + ([] if since is None else [(since, self.rpm.t[-1])])

    def egt(self, cylinder):
        return self[f"EGT Cyl {cylinder} (degC)"]
