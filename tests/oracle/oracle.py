"""An independent solution of a job file, with numpy alone.

Written from the model's description (docs/measuring.md), not from the Rust code: rows and priors are
built here once more, derivatives are numeric, the covariance is a dense inverse. It knows nothing of
robust starts or suspects: give it jobs without gross misreads, or with the misread set aside.

    python3 oracle.py JOB.json > expected.json     (needs numpy)

Prints per stage and pair: value, standard uncertainty of height, centre, length difference and width,
and whether the priors alone would know the quantity half as well ('measured'); per point: position
and standard uncertainty.
"""

import json
import math
import sys

import numpy as np

DEFAULT_SIGMA = {"height": 0.7, "offset": 0.7, "split": 0.7, "span": 1.0, "datum_span": 1.0, "fix": 1.0}


class Model:
    def __init__(self, job):
        self.job = job
        self.build = job.get("build_spread_mm", 1.0)
        self.sheet = job.get("sheet")
        self.index = {}
        self.start = []
        replaced = {r.get("replaces") for r in job["readings"]}
        self.readings = [r for r in job["readings"] if not r.get("set_aside") and r["id"] not in replaced]
        self.stages = [s["id"] for s in job["stages"]]
        for name, point in job["points"].items():
            for stage in ["*"] if point.get("trusted") else self.stages:
                centre = self.target(name) or point["place"]
                self.unknown(("p", name, stage), centre)
        for stage in self.stages:
            self.unknown(("tilt", stage), [0.0, 0.0])
        for r in self.readings:
            key = (r.get("setup"), r["stage"])
            if r["kind"] == "height":
                self.unknown(("level", *key), [0.0])
            if r["kind"] in ("offset", "split"):
                self.unknown(("plumb", *key), [0.0, 0.0])
            if r["kind"] == "fix":
                self.unknown(("frame", r["frame"], r["stage"]), [0.0] * 6)
        self.x = np.array(self.start)
        self.place_frames()

    def place_frames(self):
        """Starts each device's frame at the best rigid fit of the rough places (Kabsch, by SVD)."""
        seen = {}
        for r in self.readings:
            if r["kind"] == "fix":
                seen.setdefault((r["frame"], r["stage"]), []).append((self.job["points"][r["point"]]["place"], r["xyz_mm"]))
        for key, pairs in seen.items():
            a, b = (np.array(side, float) for side in zip(*pairs))
            u, _, vt = np.linalg.svd((a - a.mean(0)).T @ (b - b.mean(0)))
            turn = vt.T @ np.diag([1, 1, np.sign(np.linalg.det(vt.T @ u.T))]) @ u.T
            angle = math.acos(max(-1.0, min(1.0, (np.trace(turn) - 1) / 2)))
            axis = np.array([turn[2, 1] - turn[1, 2], turn[0, 2] - turn[2, 0], turn[1, 0] - turn[0, 1]])
            vector = axis * (angle / (2 * math.sin(angle))) if angle > 1e-9 else axis / 2
            self.x[self.index[("frame", *key)]] = np.concatenate([vector, b.mean(0) - turn @ a.mean(0)])

    def unknown(self, key, start):
        if key not in self.index:
            self.index[key] = slice(len(self.start), len(self.start) + len(start))
            self.start.extend(start)

    def target(self, name):
        return self.sheet["points"].get(name) if self.sheet else None

    def place(self, x, name, stage):
        trusted = self.job["points"][name].get("trusted")
        return x[self.index[("p", name, "*" if trusted else stage)]]

    def up(self, x, stage):
        roll, pitch = x[self.index[("tilt", stage)]]
        return np.array([-math.sin(pitch), math.sin(roll) * math.cos(pitch), math.cos(roll) * math.cos(pitch)])

    def normal(self, x, setup, stage):
        """Level normal of the plumb beam: from +y (lengthwise) or +x (crosswise), turned by the yaw."""
        up = self.up(x, stage)
        yaw = x[self.index[("plumb", setup, stage)]][0]
        plumb = self.job["setups"][setup]["plumb"]
        axis = np.array([0.0, 1.0, 0.0]) if plumb == "lengthwise" else np.array([1.0, 0.0, 0.0])
        level = axis - up * (axis @ up)
        level /= np.linalg.norm(level)
        return math.cos(yaw) * level + math.sin(yaw) * np.cross(up, level)

    def sigma(self, r, value):
        if r.get("sigma_mm") is not None:
            return r["sigma_mm"]
        tool = self.job.get("tools", {}).get(r.get("tool"))
        if tool:
            return math.hypot(tool["sigma_mm"], tool.get("per_m_mm", 0.0) * value / 1000.0)
        return DEFAULT_SIGMA[r["kind"]]

    def reading_rows(self, x):
        rows = []
        for r in self.readings:
            stage, kind = r["stage"], r["kind"]
            if kind == "fix":
                w = x[self.index[("frame", r["frame"], stage)]]
                rows.extend((np.array(r["xyz_mm"]) - (rotation(w[:3]) @ self.place(x, r["point"], stage) + w[3:])) / self.sigma(r, 0.0))
                continue
            value = r["value_mm"] - r.get("origin_mm", 0.0)
            if kind == "height":
                beam = x[self.index[("level", r["setup"], stage)]][0] - self.up(x, stage) @ self.place(x, r["point"], stage)
                predicted = beam if r["beam"] == "above" else -beam
            elif kind == "offset":
                d = x[self.index[("plumb", r["setup"], stage)]][1]
                beside = self.normal(x, r["setup"], stage) @ self.place(x, r["point"], stage) - d
                predicted = beside if r["side"] in ("right", "rear") else -beside
            else:
                a, b = self.place(x, r["from"], stage), self.place(x, r["to"], stage)
                if kind == "split":
                    n, d = self.normal(x, r["setup"], stage), x[self.index[("plumb", r["setup"], stage)]][1]
                    predicted = (d - n @ a) / (n @ ((b - a) / np.linalg.norm(b - a)))
                elif kind == "span":
                    predicted = np.linalg.norm(b - a)
                else:
                    predicted = np.linalg.norm((b - a)[:2])
            rows.append((value - predicted) / self.sigma(r, value))
        return rows

    def spread(self, name):
        return np.array(self.sheet.get("spreads", {}).get(name, [self.sheet["spread_mm"]] * 3))

    def trust_rows(self, x):
        rows, points = [], self.job["points"]
        for name, point in points.items():
            if not point.get("trusted"):
                continue
            here = x[self.index[("p", name, "*")]]
            mirror = point.get("mirror")
            if self.target(name):
                rows.extend((np.array(self.target(name)) - here) / self.spread(name))
            elif point["side"] == "centre":
                rows.append(-here[1] / self.build)
            elif point["side"] == "left" and mirror and points[mirror].get("trusted"):
                rows.extend(-mirrored(here, x[self.index[("p", mirror, "*")]]) / self.build)
        return rows

    def prior_rows(self, x):
        rows, points = [], self.job["points"]
        for key, where in self.index.items():
            value = x[where]
            if key[0] == "p":
                centre = np.array(self.target(key[1]) or points[key[1]]["place"])
                rows.extend((centre - value) / (points[key[1]].get("place_sigma_mm") or 300.0))
            elif key[0] == "tilt":
                rows.extend(-value / math.radians(1.0))
            elif key[0] == "level":
                rows.append(-value[0] / 3000.0)
            elif key[0] == "plumb":
                rows.extend([-value[0] / math.radians(2.0), -value[1] / 3000.0])
        for name, point in points.items():
            mirror = point.get("mirror")
            if point["side"] != "left" or not mirror or (point.get("trusted") and points[mirror].get("trusted")):
                continue
            for stage in self.stages:
                gap = mirrored(self.place(x, name, stage), self.place(x, mirror, stage))
                if self.target(name) and self.target(mirror):
                    gap = gap - mirrored(np.array(self.target(name)), np.array(self.target(mirror)))
                rows.extend(-gap / 30.0)
        return rows

    def rows(self, x):
        return np.array(self.reading_rows(x) + self.trust_rows(x) + self.prior_rows(x))


def mirrored(left, right):
    """What is zero when left and right are mirror images."""
    return np.array([left[0] - right[0], left[1] + right[1], left[2] - right[2]])


def rotation(w):
    angle = np.linalg.norm(w)
    if angle < 1e-12:
        return np.eye(3)
    k = w / angle
    cross = np.array([[0, -k[2], k[1]], [k[2], 0, -k[0]], [-k[1], k[0], 0]])
    return np.eye(3) + math.sin(angle) * cross + (1 - math.cos(angle)) * cross @ cross


def derivative(function, x):
    columns = []
    for i in range(len(x)):
        step = np.zeros(len(x))
        step[i] = 1e-6 if abs(x[i]) < 1.0 else 1e-3
        columns.append((function(x + step) - function(x - step)) / (2 * step[i]))
    return np.array(columns).T


def solve(job):
    model = Model(job)
    x = model.x.copy()
    for iteration in range(50):
        j = derivative(model.rows, x)
        step = np.linalg.solve(j.T @ j, -j.T @ model.rows(x))
        x = x + step
        covariance = np.linalg.inv(j.T @ j)
        if np.max(np.abs(step) / np.sqrt(np.diag(covariance))) < 1e-8:
            break
    priors = derivative(lambda v: np.array(model.prior_rows(v)), model.x)
    precision = priors.T @ priors
    loose = np.diag(precision) == 0.0
    precision[loose, loose] = 1e-12
    prior_covariance = np.linalg.inv(precision)

    def quantity(stage, terms):
        """terms: (point, axis, factor) -> value, sigma, sigma of the priors alone."""
        g, value = np.zeros(len(x)), 0.0
        for name, axis, factor in terms:
            trusted = job["points"][name].get("trusted")
            where = model.index[("p", name, "*" if trusted else stage)].start + axis
            g[where] += factor
            value += factor * x[where]
        return {"value": value, "sigma": math.sqrt(g @ covariance @ g), "prior": math.sqrt(g @ prior_covariance @ g)}

    result = {"iterations": iteration + 1, "chi2_rows": float(np.sum(model.rows(x) ** 2)), "stages": {}}
    for stage in model.stages:
        pairs = {}
        for name, point in job["points"].items():
            if point["side"] == "left" and point.get("mirror"):
                m = point["mirror"]
                pairs[f"{name}/{m}"] = {
                    "right_higher_mm": quantity(stage, [(m, 2, 1), (name, 2, -1)]),
                    "centre_right_mm": quantity(stage, [(m, 1, 0.5), (name, 1, 0.5)]),
                    "right_rearward_mm": quantity(stage, [(m, 0, 1), (name, 0, -1)]),
                    "width_mm": quantity(stage, [(m, 1, 1), (name, 1, -1)]),
                }
        points = {n: [quantity(stage, [(n, a, 1)]) for a in range(3)] for n in job["points"]}
        roll, pitch = np.degrees(x[model.index[("tilt", stage)]])
        result["stages"][stage] = {"roll_deg": roll, "pitch_deg": pitch, "pairs": pairs, "points": points}
    return result


if __name__ == "__main__":
    with open(sys.argv[1], encoding="utf-8") as file:
        json.dump(solve(json.load(file)), sys.stdout, indent=1)
