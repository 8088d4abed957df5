"""Figures of the reviews of the sample logs, worked out anew from the CSV with pandas and numpy alone.

Nothing of the program is used but the JSON that it wrote: the file is read here, rotation, cranking and running are found here
(idle, overrun and cut are taken from the review), and each figure is defined in the words of its check. All have to agree to
the six digits that the JSON gives; where the check smooths on the way, or two ways may differ by a reading, to what is printed.
Outside sources are named beside the figures that rest on one. FIGURES_SHOWN=1 shows each figure.
"""

import json
import os
import subprocess
import sys

import numpy

from figures_held import apart, injectors, oil_floor, phase
from sample_log import SAME, SAMPLES, SHEET, Channel, Log, after_first, intersect, joined, total, without

LOGS = sorted(SAMPLES.glob("*.csv"))
assert len(LOGS) >= 5, "the sample logs are gone"
LEAST_FIGURES = 200
SIX_DIGITS = 6e-6  # half a step in the sixth digit, of the value

# Rest voltage of a flooded 12 V battery against charge: table credited to the Battery Council International.
BCI_V = [11.89, 12.06, 12.24, 12.45, 12.65]
BCI_PERCENT = [0, 25, 50, 75, 100]


class Tally:
    """What was compared."""

    def __init__(self):
        self.figures, self.checks, self.wrong = 0, set(), []

    def hold(self, place, reported, wanted, within=None):
        self.figures += 1
        self.checks |= {place.split()[1].split(".")[0]} - {"log", "phases"}
        limit = SIX_DIGITS * abs(wanted) + 1e-9 if within is None else within + 1e-9
        if os.environ.get("FIGURES_SHOWN"):
            print(f"{place}: {reported}, and by the log {wanted:.6g} (within {limit:.3g})")
        if reported is None or not abs(reported - wanted) <= limit:
            self.wrong.append(f"{place}: the review says {reported}, the log {wanted:.6g} (within {limit:.3g})")

    def culprits(self, place, review, wanted):
        """A list of cylinders, counted as one figure."""
        self.figures += 1
        check = place.split()[1].split(".")[0]
        self.checks.add(check)
        named = next(c["cylinders"] for c in review["checks"] if c["id"] == check)
        if named != wanted:
            self.wrong.append(f"{place}: the review says {named}, the log {wanted}")


def reviewed(path):
    done = subprocess.run(
        [os.environ["PLUGREAD"], "review", path, "--sheet", SAMPLES / "hill-special.toml", "--format", "json"],
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode in (0, 1), done.stderr
    return json.loads(done.stdout)


def facts(tally, name, log, review):
    """The log itself and its phases."""
    said = review["log"]
    steps = numpy.diff(log.time)
    tally.hold(f"{name} log.rows", said["rows"], len(log.time), 0)
    tally.hold(f"{name} log.duration_s", said["duration_s"], log.time[-1] - log.time[0])
    tally.hold(f"{name} log.sample_hz", said["sample_hz"], 1 / numpy.median(steps))
    spans = {}
    for phase in said["phases"]:
        spans.setdefault(phase["phase"], []).append((phase["from_s"], phase["to_s"]))
    tally.hold(f"{name} phases.cranking.from", spans["cranking"][0][0], log.cranking[0][0])
    tally.hold(f"{name} phases.cranking.to", spans["cranking"][0][1], log.cranking[0][1])
    tally.hold(f"{name} phases.running.from", spans["running"][0][0], log.start)
    tally.hold(f"{name} phases.running.to", spans["running"][0][1], log.end)
    tally.hold(f"{name} phases.after-stop.from", spans["after-stop"][0][0], log.turning[-1][1])
    # Warm-up ends once coolant is over 62 degC and oil over 52: 60 and 50 with two degrees to go back.
    if "warm-up" in spans:
        coolant, oil_ = log["Coolant Temp (degC)"], log["Oil Temp (degC)"]
        cold = without([(log.start, log.end)], intersect(coolant.spans(lambda v: v > 62), oil_.spans(lambda v: v > 52)))
        tally.hold(f"{name} phases.warm-up.to", spans["warm-up"][0][1], cold[0][1])


def recording(tally, name, log, numbers):
    tally.hold(f"{name} log-gaps.turning", numbers("log-gaps", "turning"), total(log.turning))
    tally.hold(f"{name} log-rate.usual", numbers("log-rate", "usual"), float(numpy.median(numpy.diff(log.time))))


def starting(tally, name, log, numbers):
    volts = log["Battery (V)"]
    # From the first turning to the fire.
    tally.hold(f"{name} start-time.crank", numbers("start-time", "crank"), total(log.cranking))
    tally.hold(f"{name} crank-voltage.lowest", numbers("crank-voltage", "lowest"), volts.during(log.cranking).v.min())
    # The middle while the starter pulls, from 0.3 s after it begins: until then it is the inrush.
    # And only until it catches for good, at 1.5 times the lower quartile of its speeds: from there on the engine helps.
    pulls = after_first(log.starter, 0.3)
    speeds = log.rpm.during(pulls)
    caught = speeds.spans(lambda v: v > 1.5 * numpy.quantile(speeds.v, 0.25)) or [(pulls[-1][1],) * 2]
    until = max(caught, key=lambda s: s[1] - s[0])[0]
    pulling = volts.during(intersect(pulls, [(0, until)])).v
    tally.hold(f"{name} crank-voltage.crank", numbers("crank-voltage", "crank"), numpy.median(pulling))
    if numbers("crank-speed", "speed") is not None:
        # The middle of its speeds until it first leaps to that.
        alone = intersect(pulls, [(0, caught[0][0])])
        tally.hold(f"{name} crank-speed.speed", numbers("crank-speed", "speed"), numpy.median(speeds.during(alone).v))
        # 80 rpm at -20 degC, 120 rpm from 20 degC on, by the coldest of oil, coolant and intake before the start.
        coldest = min(
            numpy.median(log[c].during(log.rest).v)
            for c in ("Oil Temp (degC)", "Coolant Temp (degC)", "Intake Temp (degC)")
        )
        tally.hold(f"{name} crank-speed.least", numbers("crank-speed", "least"), numpy.interp(coldest, [-20, 20], [80, 120]))
    # The greatest half-second median before the crank turns; key-on costs 0.1 V, then straight lines through the BCI table.
    around = [(log.rest[0][0] - 0.5, log.rest[0][1] + 0.5)]
    rest = volts.during(around).rolling_median(0.5).during(log.rest).v.max()
    tally.hold(f"{name} battery-rest.rest", numbers("battery-rest", "rest"), rest)
    charge = round(float(numpy.interp(rest + 0.1, BCI_V, BCI_PERCENT)))
    tally.hold(f"{name} battery-rest.charge", numbers("battery-rest", "charge"), charge)
    # What the controller commands while it turns at starter speed: the upper quartile.
    slow = intersect(log.cranking, log.rpm.spans(lambda v: (v > 30) & (v < 400)))
    advance = log["Ignition Advance (deg)"].during(slow).v
    tally.hold(f"{name} position-proof.advance", numbers("position-proof", "advance"), numpy.quantile(advance, 0.75))


def charging(tally, name, log, numbers):
    volts = log["Battery (V)"]
    settled = after_first(log.running, 30)
    fan = log["Fan"]
    assert (numpy.diff(fan.v) == 0).all(), "a fan that switches would have to be left out here"
    # All from half a minute after the fire on.
    tally.hold(f"{name} charge-voltage.median", numbers("charge-voltage", "median"), numpy.median(volts.during(settled).v))
    # The ends of its levels: tenths of a second, medians of 1 s, then of 5 s each from there on. The text shows two decimals.
    if numbers("charge-voltage", "low") is not None:
        fives = volts.means(0.1).rolling_median(1).during(settled).blocks(5).v
        tally.hold(f"{name} charge-voltage.low", numbers("charge-voltage", "low"), fives.min(), 0.005)
        tally.hold(f"{name} charge-voltage.high", numbers("charge-voltage", "high"), fives.max(), 0.005)
    # The highest voltage that it held for 5 s, by medians of 1 s.
    level = numbers("charge-vs-speed", "level")
    if level is not None:
        held = volts.during(settled).blocks(1).rolling_median(5).v.max()
        tally.hold(f"{name} charge-vs-speed.level", level, held)
    # The end of the run: the last 30 s of speeds at which the alternator's shaft turns 2000 rpm or more.
    must = 2000 / SHEET["electrical"]["alternator_ratio"]
    fast = joined(intersect(log.rpm.spans(lambda v: v > must), settled), 1)
    late = intersect(fast, [(fast[-1][1] - 30, fast[-1][1])])
    now = numpy.median(volts.means(0.5).rolling_median(2).during(late).v)
    tally.hold(f"{name} voltage-outlook.now", numbers("voltage-outlook", "now"), now)
    left = numbers("voltage-outlook", "left")
    if left is not None:
        # Peukert 1897: hours = 20 (Ah / (20 A))^n, n = 1.2, of the charge before the start the usable 80 %, less what the
        # battery has carried already: all time under 1.1 V below the regulator.
        electrical = SHEET["electrical"]
        amps = sum(electrical["loads"].values())
        whole = 3600 * 20 * (electrical["battery_ah"] / (20 * amps)) ** 1.2
        charge = numpy.interp(numpy.quantile(volts.during(log.rest).v, 0.9), BCI_V, BCI_PERCENT) / 100
        steadied = volts.means(0.5).rolling_median(2)
        carried = total(intersect(steadied.spans(lambda v: v < electrical["regulator_v"] - 1.1), settled))
        # It is told in minutes; the time carried is to one reading of the smoothed voltage.
        tally.hold(f"{name} voltage-outlook.left", left, whole * charge * 0.8 - carried, 0.5)
    # 65 A at 6000 rpm of its shaft, 75 % at 3000, 40 % at 1500 (after ISO 8854), nothing at 1000; hot 85 % of that; by the time
    # spent in bins of 250 rpm.
    speeds = log.rpm.during(settled)
    middle = 250 * numpy.floor(speeds.v / 250) + 125
    seconds = numpy.diff(numpy.append(speeds.t, settled[-1][1]))
    share = numpy.interp(middle * SHEET["electrical"]["alternator_ratio"], [1000, 1500, 3000, 6000], [0, 0.4, 0.75, 1])
    given = numpy.average(65 * 0.85 * share, weights=seconds)
    tally.hold(f"{name} amps-budget.available", numbers("amps-budget", "available"), given, 0.01)
    tally.hold(f"{name} amps-budget.loads", numbers("amps-budget", "loads"), sum(SHEET["electrical"]["loads"].values()))


def highest(tally, name, log, numbers):
    """Ends of what was seen while it ran."""
    oil = log["Oil Temp (degC)"].during(log.running).v
    tally.hold(f"{name} oil-temperature.highest", numbers("oil-temperature", "highest"), oil.max())
    tally.hold(f"{name} oil-temperature.lowest", numbers("oil-temperature", "lowest"), oil.min())
    coolant = log["Coolant Temp (degC)"].during(log.running).v
    tally.hold(f"{name} coolant-limit.highest", numbers("coolant-limit", "highest"), coolant.max())
    # Medians over 0.4 s: a bad reading is no speed.
    speed = log.rpm.rolling_median(0.4).during(log.running).v.max()
    tally.hold(f"{name} over-rev.highest", numbers("over-rev", "highest"), speed)
    tally.hold(f"{name} over-rev.limit", numbers("over-rev", "limit"), SHEET["engine"]["rev_limit_rpm"])


def oil(tally, name, log, numbers):
    # From the fire until the pressure has come, to within a reading: 100 kPa with oil that was under 50 degC until it had run for
    # 10 s, else 60 kPa.
    pressure = log["Oil Press (kPa)"]
    cold = numpy.median(log["Oil Temp (degC)"].during([(log.time[0], log.start + 10)]).v) < 50
    there = pressure.spans(lambda v: v >= (100 if cold else 60))
    came = next(max(s, log.start) for s, e in there if e - max(s, log.start) >= 0.3)
    after = numbers("oil-before-fire", "after_fire")
    tally.hold(f"{name} oil-before-fire.after_fire", after, came - log.start, pressure.step())
    spin = numbers("oil-before-fire", "spin")
    if spin is not None:
        # Turning over 100 rpm until then, before the fire.
        dry = intersect(log.rpm.spans(lambda v: v > 100), log.cranking)
        first = next((s for s, e in there if e - s >= 0.3), log.start)
        tally.hold(f"{name} oil-before-fire.spin", spin, total(intersect(dry, [(0, first)])))


def fuel(tally, name, log, review, numbers):
    # At rest, before and after the run: the pressure that it came up to, medians of half a second.
    pressure = log["Fuel Press (kPa)"].rolling_median(0.5)
    still = [log.rest[0], (log.turning[-1][1], log.time[-1])]
    tally.hold(f"{name} fuel-hold.pressure", numbers("fuel-hold", "pressure"), numpy.quantile(pressure.during(still).v, 0.98))
    # The greatest share of the time open but for two in a thousand: medians of 0.2 s from 2 s after the fire on.
    duty = log["Injector Duty (%)"].rolling_median(0.2).during(after_first(log.running, 2)).v
    tally.hold(f"{name} injector-duty.duty", numbers("injector-duty", "duty"), numpy.quantile(duty, 0.998))
    off = numbers("lambda-vs-target", "off")
    if off is not None:
        spans = reported(review, "lambda-vs-target")
        lambda_ = log["Lambda"].during(spans)
        target = log["Lambda Target"].at(lambda_.t)
        # The check smooths over 0.6 s first; the text shows two decimals.
        tally.hold(f"{name} lambda-vs-target.off", off, abs(numpy.median(lambda_.v - target)), 0.005)


def reported(review, check):
    """The spans of a finding; the figures of its cylinders are worked out inside them."""
    found = next(c for c in review["checks"] if c["id"] == check)
    return [(s["from_s"], s["to_s"]) for s in found["spans"]]


def exhaust(tally, name, log, review, numbers):
    """Each probe is read ten times a second, in turn with the others, so all are brought to the times of all of them."""
    probes = [log.egt(n) for n in range(1, 7)]
    hottest = max(p.during(log.running).v.max() for p in probes)
    tally.hold(f"{name} egt-limit.highest", numbers("egt-limit", "highest"), hottest)

    times = numpy.unique(numpy.concatenate([p.t for p in probes]))
    times = times[times >= max(p.t[0] for p in probes)]
    table = numpy.array([p.at(times) for p in probes])
    middle = Channel(times, numpy.median(table, axis=0))
    # Over the five seconds before the fire, the probes' middle; from there on rises count. Looked at from 20 s after the fire
    # on for 60 s, while the middle stands 150 degC over it. The text shows whole degrees.
    base = numpy.median(middle.during([(log.start - 5, log.start)]).v)
    look = [(log.start + 20, log.start + 80)]
    burning = intersect(middle.spans(lambda v: v - base > 150), look)
    rise = numpy.median(middle.during(burning).v) - base
    rises = [numpy.median(p.during(burning).v) - base for p in probes]
    dark = numbers("first-fire", "level")
    if dark is None:
        tally.hold(f"{name} first-fire.rise", numbers("first-fire", "rise"), rise, 0.5)
        tally.hold(f"{name} first-fire.least_share", numbers("first-fire", "least_share"), min(rises) / rise, 0.005)
    else:
        tally.hold(f"{name} first-fire.others_rise", numbers("first-fire", "others_rise"), rise, 0.5)
        worst = int(numpy.argmin(rises))
        tally.culprits(f"{name} first-fire.cylinders", review, [worst + 1])
        # Dark: under 0.4 of the middle's rise and under 180 degC of its own. To two readings.
        own = probes[worst].at(times) - base
        unlit = Channel(times, (own < 0.4 * (middle.v - base)) & (own < 180))
        span = intersect(unlit.spans(lambda v: v > 0), burning)
        tally.hold(f"{name} first-fire.spans.from", reported(review, "first-fire")[0][0], span[0][0], 0.2)
        tally.hold(f"{name} first-fire.spans.to", reported(review, "first-fire")[-1][1], span[-1][1], 0.2)
        tally.hold(f"{name} first-fire.level", dark, numpy.median(probes[worst].during(burning).v), 0.5)
        under = numpy.median(middle.during(burning).v - probes[worst].at(middle.during(burning).t))
        tally.hold(f"{name} first-fire.under", numbers("first-fire", "under"), under, 0.5)
    if numbers("egt-cylinder", "offset") is not None:
        # The one that stands furthest from the middle of the others, over the spans that the review gives.
        spans = reported(review, "egt-cylinder")
        medians = numpy.array([numpy.median(p.during(spans).v) for p in probes])
        worst = int(numpy.argmax(abs(medians - numpy.median(medians))))
        tally.culprits(f"{name} egt-cylinder.cylinders", review, [worst + 1])
        tally.hold(f"{name} egt-cylinder.level", numbers("egt-cylinder", "level"), medians[worst], 0.5)
        inside = middle.during(spans)
        under = numpy.median(probes[worst].at(inside.t) - inside.v)
        tally.hold(f"{name} egt-cylinder.offset", numbers("egt-cylinder", "offset"), under, 0.5)


def heat(tally, name, log, review, numbers):
    left = numbers("coolant-rise", "left")
    # Standing: at 3 km/h or less, from 30 s on; the last 120 s of it as medians of 5 s, and the middle of the slopes between all
    # pairs of them (Theil 1950, Sen 1968). Where the idle is younger than that the check looks at less: not done here.
    stands = after_first(joined(intersect(log["Road Speed (km/h)"].spans(lambda v: v <= 3), log.running), 1), 30)
    if left is None or not stands:
        return
    stand = max(stands, key=lambda s: s[1] - s[0])
    idles = total(intersect(phase(review, "idle"), [(stand[1] - 120, stand[1])]))
    if idles < 119:
        return
    span = reported(review, "coolant-rise")
    tally.hold(f"{name} coolant-rise.spans.from", span[0][0], stand[0])
    tally.hold(f"{name} coolant-rise.spans.to", span[-1][1], stand[1], 0.1)
    coolant = log["Coolant Temp (degC)"].during([(stand[1] - 120, stand[1])])
    fives = coolant.blocks(5)
    t, v = fives.t, fives.v
    i, j = numpy.triu_indices(len(t), 1)
    slope = float(numpy.median((v[j] - v[i]) / (t[j] - t[i])))
    tally.hold(f"{name} coolant-rise.temperature", numbers("coolant-rise", "temperature"), v[-1])
    tally.hold(f"{name} coolant-rise.rise_a_minute", numbers("coolant-rise", "rise_a_minute"), 60 * slope)
    most = numbers("coolant-rise", "most")
    # 15 degC under the boiling point, where coolant-limit keeps 10; it is given to the thousandth.
    tally.hold(f"{name} coolant-rise.most", most, numbers("coolant-limit", "boiling") - 15, 0.001)
    tally.hold(f"{name} coolant-rise.left", left, (most - v[-1]) / slope, 0.0005 / slope)


def knock(tally, name, log, review, numbers):
    # What each counter gained while it burned: running, without the 0.4 s (0.3 s and one reading) from a fuel cut or overrun on.
    cut = log["Fuel Cut"].spans(lambda v: v > 0.5)
    blanked = [(s, e + 0.4) for s, e in cut + phase(review, "cut", "overrun")]
    burning = without(log.running, blanked)
    dead = after_first(intersect(cut, log.running), 0.4)
    turns = numpy.diff(log.rpm.t) / 60 * (log.rpm.v[1:] + log.rpm.v[:-1]) / 2
    cycles = Channel(log.rpm.t, numpy.append(0, numpy.cumsum(turns)) / 2 / 1000)

    def counted(cylinder, spans):
        """Events, and engine cycles in thousands: four-stroke, two turns each."""
        counter = log[f"Knock Cyl {cylinder}"]
        gained, passed = numpy.maximum(numpy.diff(counter.v), 0), numpy.diff(cycles.at(counter.t))
        keep = numpy.zeros(len(gained), bool)
        for start, end in spans:
            keep |= (counter.t[1:] >= start - SAME) & (counter.t[1:] <= end + SAME)
        return gained[keep & numpy.isfinite(passed)].sum(), passed[keep & numpy.isfinite(passed)].sum()

    each = [counted(n, burning) for n in range(1, 7)]
    events, thousands = sum(e for e, _ in each), sum(c for _, c in each)
    if numbers("knock-by-cylinder", "rate") is None:
        tally.hold(f"{name} knock-by-cylinder.events", numbers("knock-by-cylinder", "events"), events)
        tally.hold(f"{name} knock-by-cylinder.cycles", numbers("knock-by-cylinder", "cycles"), thousands)
    else:
        loudest = max(range(6), key=lambda n: each[n][0])
        own, passed = each[loudest]
        tally.culprits(f"{name} knock-by-cylinder.cylinders", review, [loudest + 1])
        tally.hold(f"{name} knock-by-cylinder.events", numbers("knock-by-cylinder", "events"), own)
        tally.hold(f"{name} knock-by-cylinder.rate", numbers("knock-by-cylinder", "rate"), own / passed)
        others = (events - own) / (thousands - passed)
        tally.hold(f"{name} knock-by-cylinder.others", numbers("knock-by-cylinder", "others"), others)
        if events == own:
            # All of them on one side: the binomial chance of that is its share of the cycles, to that power.
            chance = (passed / thousands) ** own
            tally.hold(f"{name} knock-by-cylinder.chance", numbers("knock-by-cylinder", "chance"), chance)
    if numbers("knock-floor", "cycles") is not None:
        quiet = [counted(n, dead) for n in range(1, 7)]
        tally.hold(f"{name} knock-floor.events", numbers("knock-floor", "events"), sum(e for e, _ in quiet))
        tally.hold(f"{name} knock-floor.cycles", numbers("knock-floor", "cycles"), sum(c for _, c in quiet))


def idle(tally, name, log, review, numbers):
    speed = numbers("idle-stability", "idle")
    if speed is not None:
        # The middle of the idle phase without its first 10 s and last 2 s.
        spans = [(s, e - 2) for s, e in after_first(phase(review, "idle"), 10)]
        tally.hold(f"{name} idle-stability.idle", speed, numpy.median(log.rpm.during(spans).v))


def main():
    tally = Tally()
    for path in LOGS:
        log, review = Log(path), reviewed(path)
        by_id = {c["id"]: c for c in review["checks"]}

        def numbers(check, key, by_id=by_id):
            return by_id[check]["numbers"].get(key, {}).get("value")

        name = path.stem
        facts(tally, name, log, review)
        recording(tally, name, log, numbers)
        starting(tally, name, log, numbers)
        charging(tally, name, log, numbers)
        highest(tally, name, log, numbers)
        oil(tally, name, log, numbers)
        oil_floor(tally, name, log, numbers)
        fuel(tally, name, log, review, numbers)
        injectors(tally, name, log, review, numbers)
        exhaust(tally, name, log, review, numbers)
        apart(tally, name, log, review, numbers)
        heat(tally, name, log, review, numbers)
        idle(tally, name, log, review, numbers)
        knock(tally, name, log, review, numbers)
    # A figure that a review no longer gives must not go unseen.
    assert tally.figures >= LEAST_FIGURES, f"only {tally.figures} figures were there to be compared"
    if tally.wrong:
        sys.exit("\n".join(["figures of the reviews that the logs do not bear out:", *tally.wrong]))
    print(f"figures: {tally.figures} figures of {len(tally.checks)} checks in {len(LOGS)} logs agree")


main()
