#!/usr/bin/env python3
"""The scenario's numbers once more, by numpy and by other ways than the program's: kinds by restricted likelihood of
whole matrices (Patterson & Thompson 1971; Harville 1977), places by adding up the published exceedances, probabilities
by another generator's draws, costs by hand, a season's rain from the tips alone with each part of its U.
Usage: scenario_numbers.py OUT EXCEEDANCES.csv SAID README.md"""
import csv
import datetime
import json
import math
import re
import sys

import numpy as np

out, table, said, readme = sys.argv[1:]
wrong = 0
met = 0


def meets(what, stated, computed, within):
    global wrong, met
    met += 1
    if not abs(stated - computed) <= within:
        wrong += 1
        print("FAILED: %s: stated %.4f, computed %.4f" % (what, stated, computed), file=sys.stderr)


def holds(what, true):
    global wrong, met
    met += 1
    if not true:
        wrong += 1
        print("FAILED: " + what, file=sys.stderr)


def load(name):
    with open(name) as file:
        return json.load(file)


KINDS = ["bucket-200-twin", "siphon-200", "spoon-100"]
PLACES = {"upper-drizzle": ("E", 10.0, "year", "by_certificate"), "monsoon-quay": ("P", 1.5, "max_60_min", "none")}
WAYS = ("none", "by_kind", "by_certificate")
records = {kind: [load("%s/found/%s-%d/record.json" % (out, kind, n)) for n in range(1, 7)] for kind in KINDS}
trials = {place: load("%s/%s/trial.json" % (out, place)) for place in PLACES}
lines = open(said).read()


def chosen_of(record):
    model = record["evaluation"]["model"]
    return [c for c in model["candidates"] if c["form"] == model["chosen"]][0]


def area_of(gauge):
    return math.pi * (gauge["catch_diameter_mm"]["value"] / 20) ** 2  # cm2


def siphon_of(gauge):
    return 10 * gauge["siphon_volume_mL"] / area_of(gauge) if gauge["inlet"] == "siphon" else 0  # mm


# --- each gauge: V0, tau, c by weighted least squares of its steps ---
for kind in KINDS:
    for n, record in enumerate(records[kind], 1):
        steps = record["evaluation"]["steps"]
        Q = np.array([s["flow_mL_min"]["value"] / 60 for s in steps])
        v = np.array([s["volume_per_tip_mL"]["value"] for s in steps])
        u = np.array([s["volume_per_tip_mL"]["u"] for s in steps])
        parameters = chosen_of(record)["parameters"]
        X = np.vander(Q, len(parameters), increasing=True) / u[:, None]
        fit = np.linalg.lstsq(X, v / u, rcond=None)[0]
        for k, parameter in enumerate(parameters):
            # The steps share much of u, which weights alone do not know.
            meets("%s-%d parameter %d" % (kind, n, k), parameter["value"], fit[k], 2 * parameter["u"])
        printed = re.search(r"INV-%s-%d\s+Volume per tip: v = ([\d.]+) mL" % (kind, n), lines)
        holds("%s-%d is printed" % (kind, n), printed is not None)
        if printed:
            meets("%s-%d printed" % (kind, n), float(printed.group(1)), parameters[0]["value"], 0.0006)


# --- each kind: y = 1/(1 + e), a mean at each intensity, specimens that differ in level and tilt ---
def weights(knots, x):
    w = np.zeros(len(knots))
    if x <= knots[0]:
        w[0] = 1
        return w
    i = min(max(int(np.searchsorted(knots, x)), 1), len(knots) - 1)
    share = (x - knots[i - 1]) / (knots[i] - knots[i - 1])
    w[i - 1], w[i] = 1 - share, share
    return w


def nelder_mead(f, x, step, rounds=4000):
    n = len(x)
    simplex = [np.array(x, float)] + [np.array(x, float) + step * np.eye(n)[i] for i in range(n)]
    values = [f(p) for p in simplex]
    for _ in range(rounds):
        order = np.argsort(values)
        simplex, values = [simplex[i] for i in order], [values[i] for i in order]
        if abs(values[-1] - values[0]) < 1e-11:
            break
        middle = np.mean(simplex[:-1], axis=0)
        tried = middle + (middle - simplex[-1])
        value = f(tried)
        if value < values[0]:
            further = middle + 2 * (middle - simplex[-1])
            at_further = f(further)
            simplex[-1], values[-1] = (further, at_further) if at_further < value else (tried, value)
        elif value < values[-2]:
            simplex[-1], values[-1] = tried, value
        else:
            nearer = middle + 0.5 * (simplex[-1] - middle)
            at_nearer = f(nearer)
            if at_nearer < values[-1]:
                simplex[-1], values[-1] = nearer, at_nearer
            else:
                simplex = [simplex[0]] + [simplex[0] + 0.5 * (p - simplex[0]) for p in simplex[1:]]
                values = [values[0]] + [f(p) for p in simplex[1:]]
    return simplex[int(np.argmin(values))]


class Kind:
    def __init__(self, all_records):
        points = [sorted(((s["reference_intensity_mm_h"]["value"], s["error_percent"]["value"], s)
                          for s in record["evaluation"]["steps"]), key=lambda p: p[0]) for record in all_records]
        self.knots = np.mean([[p[0] for p in one] for one in points], axis=0)
        X, Z, y, common = [], [], [], []
        for one in points:
            X.append(np.array([weights(self.knots, p[0]) for p in one]))
            Z.append(np.array([[1, p[0] / self.knots[-1]] for p in one]))
            y.append(np.array([1 / (1 + p[1] / 100) for p in one]))
            for p in one:
                parts = [(b["dlnA"] - b["dlnV"] - b["dlnv"]) * b["u"] for b in p[2]["budget"] if b["cause"]]
                common.append((100 + p[1]) ** 2 * sum(x * x for x in parts))
        self.common = math.sqrt(np.mean(common))
        scale = np.std(np.concatenate(y) - np.concatenate([x @ np.mean(y, axis=0) for x in X]))

        def covariances(p):
            L = np.array([[p[0], 0], [p[1], p[2]]]) * scale
            return L @ L.T, (scale * math.exp(p[3])) ** 2

        def criterion(p):
            G, s2 = covariances(p)
            information, right, value = 0, 0, 0
            parts = []
            for A, B, c in zip(X, Z, y):
                V = B @ G @ B.T + s2 * np.eye(len(c))
                inverse = np.linalg.inv(V)
                value += np.linalg.slogdet(V)[1]
                information = information + A.T @ inverse @ A
                right = right + A.T @ inverse @ c
                parts.append((A, inverse, c))
            self.b = np.linalg.solve(information, right)
            self.inverse = np.linalg.inv(information)
            value += np.linalg.slogdet(information)[1]
            return value + sum((c - A @ self.b) @ inverse @ (c - A @ self.b) for A, inverse, c in parts)

        best = None
        for start in ([0, 0, -1, -1], [0.5, -0.5, 0, -2], [0, 0, -3, -1]):
            p = nelder_mead(criterion, nelder_mead(criterion, start, 0.5), 0.1)
            value = criterion(p)
            if best is None or value < best[0]:
                best = (value, p)
        criterion(best[1])
        self.G, self.s2 = covariances(best[1])


kinds = {kind: Kind(records[kind]) for kind in KINDS}
for place, trial in trials.items():
    holds("three kinds at " + place, [k["kind"] for k in trial["kinds"]] == KINDS)
    for stated in trial["kinds"]:
        name = stated["kind"]
        kind = kinds[name]
        holds(name + ": six specimens", len(stated["specimens"]) == 6 and stated["runs"] == 6)
        meets(name + " u in common", stated["u_common_percent"], kind.common, 1e-3 * kind.common)
        level, tilt = (100 * math.sqrt(kind.G[i, i]) for i in (0, 1))
        residual = 100 * math.sqrt(kind.s2)
        spread = stated["spread"]
        meets(name + " level", spread["level"]["sd_percent"], level, 0.01 * level + 0.002)
        meets(name + " tilt", spread["tilt_at_highest"]["sd_percent"], tilt, 0.02 * tilt + 0.01)
        meets(name + " residual", spread["residual"]["sd_percent"], residual, 0.01 * residual)
        for one in ("level", "tilt_at_highest", "residual"):
            holds(name + " interval of " + one, spread[one]["low"] <= spread[one]["sd_percent"] <= spread[one]["high"])
        for k, point in enumerate(stated["curve"]):
            slope = 100 / kind.b[k] ** 2
            where = "%s at %.0f mm/h" % (name, kind.knots[k])
            meets(where, point["mean_percent"]["value"], 100 * (1 / kind.b[k] - 1), 0.002)
            u = math.hypot(slope * math.sqrt(kind.inverse[k, k]), kind.common)
            meets(where + ", u", point["mean_percent"]["u"], u, 0.03 * u)
            # Student's factor lies between the normal's and that of few degrees of freedom.
            holds(where + ", k", 1.95 < point["mean_percent"]["U"] / point["mean_percent"]["u"] < 2.8)
            z = np.array([1, kind.knots[k] / kind.knots[-1]])
            between = slope * math.sqrt(z @ kind.G @ z)
            meets(where + ", gauges", point["between_sd_percent"], between, 0.02 * between + 0.003)
            meets(where + ", runs", point["within_sd_percent"], slope * math.sqrt(kind.s2), 0.02 * residual)

# --- places: exceedances straight in the logarithms, in at most so much of the time (the sites' files) ---
with open(table) as file:
    rows = list(csv.reader(line for line in file if not line.startswith("#")))
generator = np.random.default_rng(20310504)
DRAWS = 200000
for place, (column, widest, by, way) in PLACES.items():
    at = rows[0].index(column)
    percents = np.array([float(r[0]) for r in rows[1:]])
    intensities = np.array([float(r[at]) for r in rows[1:]])
    order = np.argsort(-percents)
    percents, intensities = np.log(percents[order]), np.log(intensities[order])

    def exceeded(percent):
        x = np.log(percent)
        i = np.clip(np.searchsorted(-percents, -x), 1, len(percents) - 1)
        share = (x - percents[i - 1]) / (percents[i] - percents[i - 1])
        return np.exp(intensities[i - 1] + share * (intensities[i] - intensities[i - 1]))

    edges = np.exp(np.linspace(math.log(100 / 525960), math.log(widest), 40001))
    year_I = exceeded(np.sqrt(edges[1:] * edges[:-1]))
    keep = year_I >= 0.1
    # And the one worst minute of the year.
    parts = {"year": (np.append(year_I[keep], exceeded(np.array([100 / 525960.0]))),
                      np.append((np.diff(edges) / 100 * 525960)[keep], 1.0))}
    for minutes in (1, 5, 60):
        parts["max_%d_min" % minutes] = (exceeded(100 * np.arange(1, minutes + 1) / 525960), np.ones(minutes))
    trial = trials[place]
    site = trial["places"][0]
    sums = {name: float(np.sum(I * m) / 60) for name, (I, m) in parts.items()}
    meets(place + " a year, mm", site["amount_mm_a_year"], sums["year"], 0.01 * sums["year"])
    for minutes in (1, 5, 60):
        name = "max_%d_min" % minutes
        meets(place + " " + name, site[name + "_mm"], sums[name], 1e-3 * sums[name])

    errors = {(e["kind"], e["amount"], e["corrected"]): e for e in site["errors"]}
    holds(place + ": all errors", len(errors) == 3 * 4 * 3)
    seen = {}
    for name, kind in kinds.items():
        gauge = records[name][0]["gauge"]
        for amount, (I, minutes) in parts.items():
            share = I * minutes / np.sum(I * minutes)
            W = np.array([weights(kind.knots, i) for i in I])
            y = np.maximum(W @ kind.b, 0.05)
            mean = float(np.sum(share * 100 * (1 / y - 1)))
            slope = -100 * share / y**2
            c = slope @ W
            z = np.array([np.sum(slope), np.sum(slope * I) / kind.knots[-1]])
            of_mean = float(c @ kind.inverse @ c)
            between = float(z @ kind.G @ z)
            certificate = float(np.sum(c * c)) * kind.s2
            grain = 1e4 * (gauge["nominal_tip_mm"] ** 2 + siphon_of(gauge) ** 2) / 6 / sums[amount] ** 2
            seen[name, amount] = (mean, of_mean, between, certificate, grain, kind.common)
            for corrected in WAYS:
                e = errors[name, amount, corrected]
                where = "%s at %s, %s, %s" % (name, place, amount, corrected)
                m = mean if corrected == "none" else 0.0
                own = corrected == "by_certificate"
                b, w, v = (0.0, certificate, 0.0) if own else (between, 0.0, of_mean)
                meets(where + ", mean", e["mean_percent"]["value"], m, 0.02 * abs(m) + 0.02)
                u = math.sqrt(v + kind.common**2)
                meets(where + ", u", e["mean_percent"]["u"], u, 0.04 * u)
                holds(where + ", k", 1.95 < e["mean_percent"]["U"] / e["mean_percent"]["u"] < 2.8)
                meets(where + ", gauges", e["between_sd_percent"], math.sqrt(b), 0.03 * math.sqrt(b) + 0.01)
                meets(where + ", runs", e["within_sd_percent"], math.sqrt(w), 0.03 * math.sqrt(w) + 0.002)
                meets(where + ", grain", e["grain_sd_percent"], math.sqrt(grain), 0.01 * math.sqrt(grain))
                rms = math.sqrt(m * m + kind.common**2 + b + w + grain)
                meets(where + ", rms", e["rms_percent"], rms, 0.02 * rms + 0.02)
                meets(where + ", beyond the trial", e["beyond_trial"], float(np.sum(share[I > kind.knots[-1]])), 0.03)

    # Draws of what each kind may be, given the trial: mean Student, spread scaled inverse chi-squared with the five
    # degrees of freedom of six specimens; what the bench did to all of them shifts them alike.
    for amount in parts:
        for corrected in WAYS:
            shift = generator.standard_normal(DRAWS)
            rms, error = {}, {}
            for name in KINDS:
                mean, of_mean, between, certificate, grain, common = seen[name, amount]
                scale = 5 / generator.chisquare(5, DRAWS)
                off = np.sqrt(of_mean * scale) * generator.standard_normal(DRAWS)
                m, b, w = common * shift, 0 * scale, certificate
                if corrected != "by_certificate":
                    m, b, w = m + off + (mean if corrected == "none" else 0), between * scale, 0
                rms[name] = np.sqrt(m * m + b + w + grain)
                error[name] = np.abs(m + np.sqrt(b) * generator.standard_normal(DRAWS)
                                     + np.sqrt(w + grain) * generator.standard_normal(DRAWS))
            best = np.bincount(np.argmin(np.array([rms[name] for name in KINDS]), axis=0), minlength=3) / DRAWS
            for k, name in enumerate(KINDS):
                e = errors[name, amount, corrected]
                where = "%s at %s, %s, %s" % (name, place, amount, corrected)
                # Drawn 8000 times there; degrees of freedom are there those of the data, at most five.
                meets(where + ", smallest", e["probability_smallest"], best[k], 0.04)
                for bound, share, within in (("rms_low", 0.025, 0.12), ("rms_high", 0.975, 0.22)):
                    # Fewer degrees of freedom than five widen it upwards.
                    value = float(np.quantile(rms[name], share))
                    meets(where + ", " + bound, e[bound], value, within * value + 0.03)
            if (amount, corrected) != (by, way):
                continue
            for duel in site["duels"]:
                a, b = duel["kind"], duel["before"]
                meets("%s before %s at %s" % (a, b, place), duel["probability_of_kind"],
                      float(np.mean(rms[a] < rms[b])), 0.04)
                meets("one %s before one %s at %s" % (a, b, place), duel["probability_of_one_gauge"],
                      float(np.mean(error[a] < error[b])), 0.04)
            of = {name: errors[name, amount, corrected]["rms_percent"] for name in KINDS}
            winner = min(of, key=of.get)
            choice = site["choice"]
            holds("the choice at " + place, choice["kind"] == winner)
            meets("its probability at " + place, choice["probability"], best[KINDS.index(winner)], 0.04)
            holds("whether it is supported", choice["supported"] == (choice["probability"] >= 0.95))
            holds("the sentence names it", winner in choice["sentence"] and choice["sentence"] in lines)

    # --- costs: price / years + a year's service; beyond the cheapest, for each per cent of rms less than its ---
    yearly = {"bucket-200-twin": 650 / 10 + 90, "siphon-200": 1150 / 10 + 120, "spoon-100": 240 / 10 + 90}
    for stated in trial["kinds"]:
        meets("a year of " + stated["kind"], stated["cost_a_year"], yearly[stated["kind"]], 1e-9)
    cheapest = min(yearly, key=yearly.get)
    of = {name: errors[name, by, way]["rms_percent"] for name in KINDS}
    expected = {name: (yearly[name] - yearly[cheapest]) / (of[cheapest] - of[name])
                for name in KINDS if name != cheapest and of[cheapest] - of[name] > 0.01}
    costs = {one["kind"]: one["a_year_for_each_percent"] for one in site.get("costs", [])}
    holds("which kinds cost for each per cent at " + place, set(costs) == set(expected))
    for name, value in costs.items():
        meets("a year for each per cent, %s at %s" % (name, place), value, expected[name], 1e-6 * abs(value))

# --- what the README tells of it ---
text = " ".join(open(readme).read().split())
told = re.search(r"60-minute amount is ([\d.]+) % off \(root mean square\), the bucket's ([\d.]+) %", text)
holds("the README tells of the hour at Monsoon Quay", told is not None)
if told:
    of = {e["kind"]: e["rms_percent"] for e in trials["monsoon-quay"]["places"][0]["errors"]
          if e["amount"] == "max_60_min" and e["corrected"] == "none"}
    meets("README, siphon", float(told.group(1)), of["siphon-200"], 0.051)
    meets("README, bucket", float(told.group(2)), of["bucket-200-twin"], 0.051)


# --- a season: v = V0 + tau Q (+ c Q^2) and Q = v/T give each tip's volume from the time since the one before ---
def of_form(candidate, Q):
    powers = np.array([Q**k for k in range(len(candidate["parameters"]))])
    value = np.array([p["value"] for p in candidate["parameters"]]) @ powers
    return value, np.einsum("ik,ij,jk->k", powers, np.array(candidate["covariance"]), powers)


def siphons_line(model, gauge):
    """What the end of an emptying takes from its last tip is one more observation of the line's slope (Kalman's update)."""
    line = [c for c in model["candidates"] if c["form"] == "line"][0]
    p, C = np.array([one["value"] for one in line["parameters"]]), np.array(line["covariance"])
    tail = gauge["siphon_tail_percent"] / 100
    highest = max(model["flow_max_mL_s"], gauge["max_intensity_mm_h"] / 36000 * area_of(gauge))
    mean = p[0] - p[1] * C[0, 1] / C[1, 1]  # where volume and slope are not correlated
    slope = (tail * mean) ** 2 / 2 / gauge["siphon_volume_mL"] * 0.75 / highest
    H = np.array([0.0, 1.0])
    gain = C @ H / (H @ C @ H + slope**2 * (1 / 27 + (0.4 / 3) ** 2))
    return np.append(p + gain * (slope - p[1]), [0, 0]), C - np.outer(gain, H @ C)


for place in PLACES:
    for kind in KINDS:
        where = "rain on %s at %s" % (kind, place)
        folder = "%s/season/%s-%s" % (out, place, kind)
        record = records[kind][0]
        gauge = record["gauge"]
        model = record["evaluation"]["model"]
        chosen = chosen_of(record)
        p = np.array([one["value"] for one in chosen["parameters"]] + [0, 0])
        C = np.array(chosen["covariance"])
        area_cm2 = area_of(gauge)
        is_siphons = siphon_of(gauge) > 0 and model["chosen"] in ("constant", "line")
        if is_siphons:
            p, C = siphons_line(model, gauge)
        times = []
        for line in open(folder + ".csv"):
            if line.startswith("20"):
                time = datetime.datetime.fromisoformat(line.split(",")[0].replace("Z", "+00:00")).timestamp()
                if not times or time - times[-1] > gauge["debounce_s"]:
                    times.append(time)
        T = np.append([np.inf], np.diff(np.array(times)))
        known = T < 3600
        if siphon_of(gauge) > 0:  # tips of two emptyings together
            T = np.append([np.inf] * 5, (np.array(times[5:]) - np.array(times[:-5])) / 5)
        v = np.full(len(times), p[0])
        for _ in range(80):
            flow = np.where(known, v / T, 0)
            v = p[0] + p[1] * flow + p[2] * flow**2
        depth = float(np.sum(10 * v / area_cm2))
        total = [r for r in csv.reader(open(folder + "/amounts.csv")) if r[0] == "total"][0]
        tips, logged, corrected, U, common, of_tips, filling = (float(total[i]) for i in (3, 4, 5, 6, 7, 8, 9))
        # Bounce and the second contact aside, each tip counts once.
        meets(where + ", tips", tips, len(times), 0.001 * len(times) + 1)
        meets(where + ", logged", logged, tips * gauge["nominal_tip_mm"], 1e-3)
        # What bursts within an interval make a bucket miss is not in the mean rate; the program adds it.
        meets(where, corrected, depth, 0.006 * depth)
        fell = float([l for l in open(folder + ".txt") if l.startswith("fell")][0].split()[1])
        meets("what fell on %s at %s" % (kind, place), corrected, fell, 2 * U)
        # U's parts. All tips share the parameters, at a given interval dh = 10/A dv / (1 - v'(Q)/T), and the rim.
        turn = 1 - np.where(known, (p[1] + 2 * p[2] * flow) / T, 0)
        gradient = np.array([np.sum(10 / area_cm2 * flow**k / turn) for k in range(len(C))])
        rim = 2 * gauge["catch_diameter_mm"]["u"] / gauge["catch_diameter_mm"]["value"] * depth
        least = math.hypot(math.sqrt(gradient @ C @ gradient), rim)
        # That the next richer form may be the true one, with the share of its likelihood, is common to all tips too.
        value, variance = of_form(chosen, flow)
        if is_siphons:
            value, variance = p[0] + p[1] * flow, C[0, 0] + 2 * flow * C[0, 1] + flow**2 * C[1, 1]
        richer = None if is_siphons else {"constant": "line", "line": "curve"}.get(model["chosen"])
        for other in (c for c in model["candidates"] if c["form"] == richer and c["dof"] > 0.5):
            odds = math.exp((chosen["chi2"] - other["chi2"]) / 2)
            its, its_variance = of_form(other, flow)
            share = odds / (1 + odds)
            variance = (1 - share) * variance + share * (np.maximum(variance, its_variance) + (its - value) ** 2)
        most = math.hypot(float(np.sum(10 / area_cm2 * np.sqrt(variance) / turn)), rim)
        # What the bursts within intervals leave open comes on top.
        holds(where + ", u in common: %.4f, of parameters and rim %.4f, of the form too %.4f" % (common, least, most),
              0.98 * least <= common <= 1.1 * most + 0.0025 * depth)
        steps = record["evaluation"]["steps"]
        scatter = [(s["observation"]["scatter"]["dof"], s["observation"]["scatter"]["sd_percent"] / 100) for s in steps]
        sd = math.sqrt(sum(d * s * s for d, s in scatter) / sum(d for d, s in scatter))
        excess = [s["observation"]["compartments"]["a_excess_percent"] / 100 for s in steps
                  if s["observation"]["compartments"]]
        expected = math.sqrt(float(np.sum((10 * v / area_cm2) ** 2)) * sd**2
                             + (np.mean(excess) * corrected / tips if excess else 0) ** 2)
        meets(where + ", u of tips", of_tips, expected, 0.03 * expected)
        resting = math.sqrt(2 * ((10 * p[0] / area_cm2) ** 2 + siphon_of(gauge) ** 2) / 12)
        meets(where + ", u of filling", filling, resting, 0.01 * resting)
        k = U / math.sqrt(common**2 + of_tips**2 + filling**2)
        holds(where + ", k %.3f" % k, 1.955 <= k <= 2.1)
        row = re.search(r"%s +INV-%s-1 +([\d.]+) +([\d.]+) +([\d.]+) ± ([\d.]+)" % (place, kind), lines)
        holds(where + " is printed", row is not None)
        if row:
            for number, stated in zip(row.groups(), (fell, logged, corrected, U)):
                meets(where + ", printed", float(number), stated, 0.0501)
print("%d numbers computed once more" % met)
sys.exit(wrong > 0)
