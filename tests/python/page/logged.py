"""The logs as Python's own reader finds them: what the page says is held against this, and nothing of ours is between."""

import bisect
import csv
import re

# How a picture names a channel, and the heading in the sample logs.
HEADINGS = {
    "rpm": "Engine Speed (rpm)",
    "map": "MAP (kPa)",
    "tps": "Throttle (%)",
    "battery_v": "Battery (V)",
    "lambda": "Lambda",
    "lambda_target": "Lambda Target",
    "ignition_advance": "Ignition Advance (deg)",
    "injector_pulse": "Injector Pulse (ms)",
    "injector_duty": "Injector Duty (%)",
    "coolant_temp": "Coolant Temp (degC)",
    "intake_temp": "Intake Temp (degC)",
    "oil_temp": "Oil Temp (degC)",
    "oil_pressure": "Oil Press (kPa)",
    "fuel_pressure": "Fuel Press (kPa)",
    "baro": "Baro (kPa)",
    "bay_temp": "Bay Temp (degC)",
    "speed": "Road Speed (km/h)",
    "lateral_g": "Lateral G (g)",
}


class Log:
    """Columns by heading: times in seconds and values, blank cells left out."""

    def __init__(self, file):
        with open(file, newline="", encoding="utf-8") as text:
            rows = list(csv.reader(text))
        heads = rows[2]
        self.columns = {}
        for at, head in enumerate(heads):
            times, values = [], []
            for row in rows[3:]:
                if len(row) == len(heads) and row[0].strip() and row[at].strip():
                    times.append(float(row[0]))
                    values.append(float(row[at]))
            self.columns[head] = (times, values)

    def heading(self, name, title):
        """The heading behind a name in a picture with that title; None where a check worked the numbers out."""
        if name.endswith(", worked out"):
            return None
        if name in HEADINGS:
            return HEADINGS[name]
        if number := re.fullmatch(r"cylinder (\d+)", name):
            stem = {"egt": "EGT Cyl {} (degC)", "knock": "Knock Cyl {}"}.get(title)
            return stem and stem.format(number[1])
        if letter := re.fullmatch(r"sensor ([ab])", name):
            return f"Knock Sensor {letter[1].upper()}"
        return None

    def at(self, heading, t):
        """The reading in force at t. Right before the first one it is that."""
        times, values = self.columns[heading]
        at = bisect.bisect_right(times, t + 1e-6) - 1
        if at < 0:
            return values[0] if times and times[0] - t <= 0.1 else None
        return values[at]

    def between(self, heading, start, end):
        times, values = self.columns[heading]
        return values[bisect.bisect_left(times, start - 1e-6) : bisect.bisect_right(times, end + 1e-6)]
