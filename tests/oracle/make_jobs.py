"""Makes the jobs that the engine and `oracle.py` are compared on, and the oracle's answers.

    python3 make_jobs.py        (needs numpy; writes *.job.json and *.expected.json beside itself)

Invented cars, all six kinds of readings, two stages, a crosswise beam, a centre point, an own place
spread, a tape's origin and a tool, once without a sheet, once with one and once with one whose targets
have spreads of their own. The hand's noise is small, so that nothing is suspect: the oracle knows no
suspects.
"""

import json
import pathlib

import numpy as np

from oracle import Model, solve

HERE = pathlib.Path(__file__).parent
LEFT = {"rail": (-600, -430, 480, False), "tower": (-50, -560, 850, False), "sill": (800, -700, 210, True),
        "floor": (1200, -390, 190, True), "rear": (2400, -490, 380, True)}


def skeleton(sheet):
    points = {}
    for name, (x, y, z, trusted) in LEFT.items():
        for side, end, other, sign in (("left", "L", "R", 1), ("right", "R", "L", -1)):
            points[f"{name}-{end}"] = {"side": side, "mirror": f"{name}-{other}", "place": [x, sign * y, z], "trusted": trusted}
    points["notch"] = {"side": "centre", "place": [420, 0, 930], "place_sigma_mm": 50, "trusted": True}
    job = {"format": "baybook-job/1", "points": points,
           "tools": {"tape": {"kind": "tape", "sigma_mm": 0.8, "per_m_mm": 0.3}},
           "setups": {"s1": {"plumb": "lengthwise"}, "s2": {"plumb": "lengthwise"}, "x1": {"plumb": "crosswise"}},
           "stages": [{"id": "as-received"}, {"id": "pull-1", "of": "pull", "load": "released"}], "readings": []}
    if sheet:
        targets = {n: [p["place"][0] + 3, p["place"][1] * 1.004, p["place"][2] - 2] for n, p in points.items()}
        targets["tower-L"][2] += 4.0
        job["sheet"] = {"name": "invented", "revision": 1, "spread_mm": 0.5, "points": targets}
    return job


def read(job):
    count = 0

    def take(**reading):
        nonlocal count
        count += 1
        job["readings"].append({"id": f"r{count:03d}", **reading})

    for stage in ("as-received", "pull-1"):
        for name in job["points"]:
            take(stage=stage, kind="height", setup="s1", point=name, beam="above", value_mm=0.0)
            take(stage=stage, kind="offset", setup="s1", point=name, side="right", value_mm=0.0)
        for name in LEFT:
            left, right = f"{name}-L", f"{name}-R"
            take(stage=stage, kind="height", setup="s2", point=left, beam="below", value_mm=0.0)
            take(stage=stage, kind="split", setup="s2", **{"from": left, "to": right}, value_mm=0.0)
            take(stage=stage, kind="span", **{"from": left, "to": "notch"}, value_mm=0.0, tool="tape", origin_mm=100)
            take(stage=stage, kind="span", **{"from": right, "to": "notch"}, value_mm=0.0)
            take(stage=stage, kind="offset", setup="x1", point=right, side="rear", value_mm=0.0)
        for a, b in (("rail-L", "floor-R"), ("rail-R", "floor-L"), ("tower-L", "rear-R"), ("tower-R", "rear-L")):
            take(stage=stage, kind="datum_span", **{"from": a, "to": b}, value_mm=0.0)
        for name in ("tower-L", "tower-R", "sill-L", "rear-R", "notch"):
            take(stage=stage, kind="fix", frame="arm", point=name, xyz_mm=[0.0, 0.0, 0.0])
    return job


def fill(job, seed):
    """True values and a small noise in place of the zeros."""
    random = np.random.default_rng(seed)
    model = Model(job)
    x = model.x.copy()
    for key, where in model.index.items():
        if key[0] == "p":
            trusted = job["points"][key[1]].get("trusted")
            x[where] += random.normal(0.0, 0.3 if trusted else 6.0, 3)
        elif key[0] == "tilt":
            x[where] = random.normal(0.0, 0.006, 2)
        elif key[0] == "level":
            x[where] = 1100.0 if key[1] == "s1" else -150.0
        elif key[0] == "plumb":
            x[where] = [random.normal(0.0, 0.01), -2000.0 if key[1] == "s1" else (-1500.0 if key[1] == "x1" else random.normal(0.0, 40.0))]
        elif key[0] == "frame":
            x[where] = [0.1, -0.2, 0.7, 1500.0, -220.0, 90.0]
    rows = iter(model.reading_rows(x))
    for reading in job["readings"]:
        sigma = model.sigma(reading, 0.0) if reading["kind"] != "span" or "tool" not in reading else None
        if reading["kind"] == "fix":
            reading["xyz_mm"] = [round(-next(rows) * sigma + random.normal(0.0, 0.3), 1) for _ in range(3)]
            continue
        origin = reading.get("origin_mm", 0.0)
        if sigma is None:
            # The tool's spread depends on the value; the zero's own is what the row was made with.
            sigma = model.sigma(reading, -origin)
        reading["value_mm"] = round(2.0 * (-next(rows) * sigma + random.normal(0.0, 0.2))) / 2.0
    return job


if __name__ == "__main__":
    for name, sheet, seed in (("symmetry", False, 1), ("sheet", True, 2), ("spreads", True, 3)):
        job = skeleton(sheet)
        if name == "spreads":
            # From a tenth to twice the spread of all, other along each axis.
            own = [n for n, p in job["points"].items() if p["trusted"]]
            job["sheet"]["spreads"] = {n: [round(0.05 * (i + 1), 2), round(0.6 - 0.06 * i, 2), 1.0] for i, n in enumerate(own[1:])}
        job = fill(read(job), seed)
        (HERE / f"{name}.job.json").write_text(json.dumps(job, indent=1) + "\n", encoding="utf-8")
        answer = solve(job)
        for stage in answer["stages"].values():
            for pair in stage["pairs"].values():
                for quantity in pair.values():
                    for key in quantity:
                        quantity[key] = round(quantity[key], 6)
            stage["points"] = {n: [{k: round(v, 6) for k, v in axis.items()} for axis in axes] for n, axes in stage["points"].items()}
        (HERE / f"{name}.expected.json").write_text(json.dumps(answer, indent=1) + "\n", encoding="utf-8")
        print(name, "iterations", answer["iterations"], "chi2 of all rows", answer["chi2_rows"])
