"""The same signals through a general-purpose library: standard input and output are JSON. See reference-scipy.test.ts."""

import json
import sys

import numpy
from scipy import integrate, ndimage, stats


def runs(times, amps):
    """Spells in which the current, smoothed by a median of three, is above half of its own high level."""
    level = ndimage.median_filter(amps, size=3)
    high = numpy.percentile(level, 99)
    labels, count = ndimage.label(level > high / 2)
    spells = []
    for nth in range(1, count + 1):
        where = numpy.flatnonzero(labels == nth)
        if times[where[-1]] - times[where[0]] >= 60_000:
            spells.append((where[0], where[-1]))
    return spells


def fills(given):
    times, amps = (numpy.asarray(given["current"][k], dtype=float) for k in ("t", "v"))
    volts = numpy.interp(times, given["voltage"]["t"], given["voltage"]["v"])
    spells = runs(times, amps)
    resting = numpy.ones(len(times), dtype=bool)
    for first, last in spells:
        resting[max(0, first - 2) : last + 3] = False
    zero = numpy.median(amps[resting])
    watts = (amps - zero) * volts
    found = []
    for first, last in spells:
        part = slice(max(0, first - 1), last + 2)
        watt_ms = integrate.trapezoid(watts[part], times[part])
        found.append(
            {
                # Between the last sample at rest and the first of the run, and likewise at its end.
                "start": (times[first - 1] + times[first]) / 2,
                "end": (times[last] + times[last + 1]) / 2,
                "energyWh": watt_ms / 3_600_000,
                "currentA": float(numpy.median(amps[first + 12 : last - 3]) - zero),
            }
        )
    return {"fills": found, "zeroA": float(zero)}


def lines(given):
    x, y = numpy.asarray(given["x"]), numpy.asarray(given["y"])
    slope, intercept, low, high = stats.theilslopes(y, x)
    least = stats.linregress(x, y)
    return {
        "theil": [slope, intercept, low, high],
        "least": [least.slope, least.intercept, least.stderr, least.intercept_stderr],
        "median": float(numpy.median(y)),
        "mad": float(stats.median_abs_deviation(y)),
        "madSd": float(stats.median_abs_deviation(y, scale="normal")),
        "quantiles": numpy.quantile(y, given["shares"]).tolist(),
    }


if __name__ == "__main__":
    asked = json.load(sys.stdin)
    json.dump({"fills": fills, "lines": lines}[sys.argv[1]](asked), sys.stdout)
