"""Figures of checks that hold one channel against another: oil pressure against its floor, rail against manifold, each exhaust
against its bank. Worked out from the CSV with numpy alone; `figures.py` calls them.
"""

import numpy

from sample_log import SAME, SHEET, Channel, after_first, intersect, joined, without


def phase(review, *names):
    return [(p["from_s"], p["to_s"]) for p in review["log"]["phases"] if p["phase"] in names]


def oil_floor(tally, name, log, numbers):
    # From 5 s after the fire on (and up to 1 s before it, for that is starting): 69 kPa for each 1000 rpm of the least speed in
    # the second around, no more than 80 % of the relief valve's pressure or 350 kPa.
    assert log["Oil Temp (degC)"].v.max() < 120, "thinner oil would lower the floor"
    pressure = log["Oil Press (kPa)"]
    judged = without(log.running, [(log.start - 1, log.start + 5)])
    t, v = log.rpm.t, log.rpm.v
    ends = (numpy.searchsorted(t, t - 0.5 - SAME, "left"), numpy.searchsorted(t, t + 0.5 + SAME, "right"))
    least = Channel(t, [v[a:b].min() for a, b in zip(*ends, strict=True)])
    seen = pressure.during(judged)
    floor = numpy.minimum(least.at(seen.t) * 0.069, min(350, 0.8 * SHEET["oil"]["relief"]))
    with numpy.errstate(divide="ignore"):  # as it stops
        share = seen.v / floor
    # The bin of 500 rpm, of those that it was in for a second, where the middle share is least.
    bins = numpy.floor(log.rpm.at(seen.t) / 500)
    enough = [b for b in numpy.unique(bins) if (bins == b).sum() * pressure.step() >= 1]
    nearest = min(enough, key=lambda b: numpy.median(share[bins == b]))
    there = intersect(log.rpm.spans(lambda v: (v >= 500 * nearest) & (v < 500 * nearest + 500)), judged)
    tally.hold(f"{name} oil-vs-speed.nearest_speed", numbers("oil-vs-speed", "nearest_speed"), numpy.median(log.rpm.during(there).v))
    tally.hold(f"{name} oil-vs-speed.nearest", numbers("oil-vs-speed", "nearest"), numpy.median(pressure.during(there).v))


def injectors(tally, name, log, review, numbers):
    # The rail over the manifold, medians of 2 s, from 5 s after the fire on, at light load: in the lower 60 % of the manifold's
    # range, whose upper end is the air, without cuts and overrun.
    rail, manifold = log["Fuel Press (kPa)"], log["MAP (kPa)"]
    air = numpy.median(log["Baro (kPa)"].v)
    seen = manifold.during(log.running).v
    low, high = numpy.quantile(seen, 0.02), max(numpy.quantile(seen, 0.995), air)
    running = after_first(log.running, 5)
    easy = intersect(manifold.spans(lambda v: v < low + 0.6 * (high - low)), running)
    easy = without(easy, phase(review, "cut", "overrun"))
    light = intersect(joined(easy, 0.3), easy)
    over = Channel(rail.t, rail.v - (manifold.at(rail.t) - air)).rolling_median(2).during(light).v
    tally.hold(f"{name} fuel-pressure.median", numbers("fuel-pressure", "median"), numpy.median(over))
    slope = numbers("fuel-pressure", "slope")
    # The slope between medians of seconds, overrun included: the middle of those between all pairs (Theil 1950, Sen 1968). The
    # seconds may begin elsewhere than the check's, and the logged kPa are whole: so to 0.05, where half of 1 is the limit.
    light = sorted(light + intersect(phase(review, "overrun"), running))
    x, y = manifold.during(light).blocks(1), rail.during(light).blocks(1)
    moved = numpy.quantile(x.v, 0.95) - numpy.quantile(x.v, 0.05)
    assert (slope is not None) == (moved > 20), f"{name}: the manifold moved by {moved} kPa, and the slope is {slope}"
    if slope is not None:
        held = x.at(y.t)
        held, rails = held[~numpy.isnan(held)], y.v[~numpy.isnan(held)]
        i, j = numpy.triu_indices(len(held), 1)
        apart = held[j] != held[i]
        slopes = (rails[j] - rails[i])[apart] / (held[j] - held[i])[apart]
        tally.hold(f"{name} fuel-pressure.slope", slope, numpy.median(slopes), 0.05)


def lagged(channel, seconds):
    """As a sensor of first order with that time constant shows it."""
    keep = numpy.exp(-numpy.diff(channel.t) / seconds)
    into = (channel.v[1:] + channel.v[:-1]) / 2
    out = [channel.v[0]]
    for share, value in zip(keep, into, strict=True):
        out.append(out[-1] * share + value * (1 - share))
    return Channel(channel.t, out)


def quick(channel):
    """What is left of it without its slow part."""
    return Channel(channel.t, channel.v - lagged(channel, 20).v)


def lag_behind(own, others, spans):
    """The time constant by which the others, lagged, come closest, and the share of the movement that they then explain."""
    seen = own.during(spans)
    shares = {}
    for seconds in numpy.geomspace(0.1, 8, 45):
        held = lagged(others, seconds).at(seen.t)
        known = ~numpy.isnan(held)
        shares[seconds] = numpy.corrcoef(held[known], seen.v[known])[0, 1] ** 2
    best = max(shares, key=shares.get)
    return best, shares[best]


def side_by_side(probes):
    """Times of the first, and what all of them read then."""
    times = probes[0].t[probes[0].t >= max(p.t[0] for p in probes)]
    return times, numpy.array([p.at(times) for p in probes])


def apart(tally, name, log, review, numbers):
    """Furthest from the median of its own bank, in warm and settled running, each probe brought to the pace of the slowest."""
    widest = numbers("egt-spread", "widest")
    if widest is None:
        return
    probes = [log.egt(n).means(0.1) for n in range(1, 7)]
    times, table = side_by_side(probes)
    middle = quick(Channel(times, numpy.median(table, axis=0)))
    spans = after_first(log.running, 20)
    fits = [lag_behind(quick(p), middle, spans) for p in probes]
    assert all(share > 0.7 for _, share in fits), f"{name}: a probe that does not follow would have to be left out here"
    slowest = max(range(6), key=lambda i: fits[i][0])
    behind = quick(probes[slowest])
    lags = [0 if i == slowest else lag_behind(behind, quick(p), spans)[0] for i, p in enumerate(probes)]
    even = [lagged(p, lag) if lag >= 0.15 else p for p, lag in zip(probes, lags, strict=True)]
    # Four lags of the slowest, which is 1.5 s over the quickest and 4 s at most. The lags are fitted on a coarser scale here.
    settle = 4 * min(1.5 + max(lags), 4)
    tally.hold(f"{name} egt-spread.settle", numbers("egt-spread", "settle"), settle, 0.5)
    warm = without(after_first(phase(review, "steady"), settle), phase(review, "warm-up"))
    times, table = side_by_side(even)
    far = numpy.zeros(len(times))
    for bank in SHEET["engine"]["banks"].values():
        own = table[[n - 1 for n in bank]]
        far = numpy.maximum(far, abs(own - numpy.median(own, axis=0)).max(axis=0))
    # The text shows whole degrees.
    tally.hold(f"{name} egt-spread.widest", widest, numpy.quantile(Channel(times, far).during(warm).v, 0.99), 0.5)
