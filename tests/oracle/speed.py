"""How long scipy and a textbook dense solution take for a job file: for `cargo xtask bench`.

    python3 speed.py JOB.json        (needs numpy and scipy)

The rows are the model's of `oracle.py` (checked against it before the clock starts), with analytic
derivatives and whole-array arithmetic, so that what is timed is the solution and not Python. One
stage; heights, offsets, splits and spans. Both find the position and the full covariance.
"""

import json
import math
import sys
import time

import numpy as np
from scipy.optimize import least_squares

from oracle import Model, derivative

STEP = 1e-6


class Fast:
    def __init__(self, job):
        self.model = model = Model(job)
        self.x0 = model.x.copy()
        (self.stage,) = model.stages
        by = {kind: [r for r in model.readings if r["kind"] == kind] for kind in ("height", "offset", "split", "span")}
        assert sum(map(len, by.values())) == len(model.readings), "a kind that this script does not know"
        self.order = np.argsort([model.readings.index(r) for kind in by.values() for r in kind])
        self.by = {kind: self.layout(kind, rows) for kind, rows in by.items()}
        others = lambda x: np.array(model.trust_rows(x) + model.prior_rows(x))
        # Trust and priors are linear.
        self.linear, self.at_zero = derivative(others, self.x0), others(np.zeros(len(self.x0)))

    def layout(self, kind, rows):
        index, three = self.model.index, np.arange(3)
        point = lambda name: index[("p", name, "*" if self.model.job["points"][name].get("trusted") else self.stage)].start
        value = np.array([r["value_mm"] - r.get("origin_mm", 0.0) for r in rows])
        sigma = np.array([self.model.sigma(r, v) for r, v in zip(rows, value)])
        if kind in ("height", "offset"):
            a = np.array([point(r["point"]) for r in rows])[:, None] + three
            beam = "level" if kind == "height" else "plumb"
            sign = np.array([1.0 if r.get("beam") == "above" or r.get("side") in ("right", "rear") else -1.0 for r in rows])
            return value, sigma, a, np.array([index[(beam, r["setup"], self.stage)].start for r in rows]), sign
        a, b = (np.array([point(r[end]) for r in rows])[:, None] + three for end in ("from", "to"))
        beam = np.array([index[("plumb", r["setup"], self.stage)].start for r in rows]) if kind == "split" else None
        return value, sigma, a, b, beam

    def normals(self, x, beam):
        """Normals of the plumb beams and their derivatives by roll, pitch and yaw."""
        tilt = self.model.index[("tilt", self.stage)]

        def at(roll, pitch, yaw):
            up = np.array([-math.sin(pitch), math.sin(roll) * math.cos(pitch), math.cos(roll) * math.cos(pitch)])
            level = np.array([0.0, 1.0, 0.0]) - up * up[1]
            level /= np.linalg.norm(level)
            return np.outer(np.cos(yaw), level) + np.outer(np.sin(yaw), np.cross(up, level))

        (roll, pitch), yaw = x[tilt], x[beam]
        return at(roll, pitch, yaw), [
            (at(roll + STEP, pitch, yaw) - at(roll - STEP, pitch, yaw)) / (2 * STEP),
            (at(roll, pitch + STEP, yaw) - at(roll, pitch - STEP, yaw)) / (2 * STEP),
            (at(roll, pitch, yaw + STEP) - at(roll, pitch, yaw - STEP)) / (2 * STEP),
        ]

    def both(self, x):
        """Rows (value − predicted) / σ and their Jacobian."""
        tilt = self.model.index[("tilt", self.stage)].start
        rows, jacobians = [], []

        def emit(value, sigma, predicted, parts):
            jacobian = np.zeros((len(value), len(x)))
            each = np.arange(len(value))
            for where, by in parts:
                if by.ndim == 2:
                    jacobian[each[:, None], where] += by
                else:
                    jacobian[each, where] += by
            rows.append((value - predicted) / sigma)
            jacobians.append(-jacobian / sigma[:, None])

        value, sigma, a, beam, sign = self.by["height"]
        roll, pitch = x[tilt], x[tilt + 1]
        up = np.array([-math.sin(pitch), math.sin(roll) * math.cos(pitch), math.cos(roll) * math.cos(pitch)])
        by_roll = np.array([0.0, math.cos(roll) * math.cos(pitch), -math.sin(roll) * math.cos(pitch)])
        by_pitch = np.array([-math.cos(pitch), -math.sin(roll) * math.sin(pitch), -math.cos(roll) * math.sin(pitch)])
        p = x[a]
        emit(value, sigma, sign * (x[beam] - p @ up), [
            (a, -sign[:, None] * up), (beam, sign), (tilt, -sign * (p @ by_roll)), (tilt + 1, -sign * (p @ by_pitch))])

        value, sigma, a, beam, sign = self.by["offset"]
        n, turns = self.normals(x, beam)
        p = x[a]
        dot = lambda one, other: np.einsum("ij,ij->i", one, other)
        emit(value, sigma, sign * (dot(n, p) - x[beam + 1]), [
            (a, sign[:, None] * n), (beam + 1, -sign), (tilt, sign * dot(turns[0], p)), (tilt + 1, sign * dot(turns[1], p)), (beam, sign * dot(turns[2], p))])

        value, sigma, a, b, beam = self.by["split"]
        n, turns = self.normals(x, beam)
        pa, d = x[a], x[b] - x[a]
        q, length = dot(n, d), np.linalg.norm(d, axis=1)
        e, share = d / length[:, None], (x[beam + 1] - dot(n, pa)) / q
        turned = lambda by: length * dot(by, -pa - share[:, None] * d) / q
        emit(value, sigma, share * length, [
            (a, (length * (share - 1) / q)[:, None] * n - share[:, None] * e), (b, (-length * share / q)[:, None] * n + share[:, None] * e),
            (beam + 1, length / q), (tilt, turned(turns[0])), (tilt + 1, turned(turns[1])), (beam, turned(turns[2]))])

        value, sigma, a, b, _ = self.by["span"]
        d = x[b] - x[a]
        length = np.linalg.norm(d, axis=1)
        e = d / length[:, None]
        emit(value, sigma, length, [(a, -e), (b, e)])

        rows.append(self.linear @ x + self.at_zero)
        jacobians.append(self.linear)
        return np.concatenate(rows), np.vstack(jacobians)

    def check(self):
        """The rows are the oracle's, the derivatives are theirs."""
        rows, jacobian = self.both(self.x0)
        count = len(self.model.readings)
        known = self.model.rows(self.x0)
        assert np.allclose(rows[:count][self.order], known[:count], atol=1e-9), "rows differ from the oracle's"
        assert np.allclose(rows[count:], known[count:], atol=1e-6), "linear rows differ from the oracle's"
        numeric = derivative(lambda x: self.both(x)[0], self.x0)
        assert np.allclose(jacobian, numeric, rtol=1e-4, atol=1e-4), "derivatives differ from numeric ones"


def textbook(fast):
    """Gauss-Newton on dense normal equations, inverted for the covariance."""
    x = fast.x0.copy()
    for _ in range(50):
        rows, jacobian = fast.both(x)
        covariance = np.linalg.inv(jacobian.T @ jacobian)
        step = -covariance @ (jacobian.T @ rows)
        x += step
        if np.max(np.abs(step) / np.sqrt(np.diag(covariance))) < 1e-6:
            return x
    raise RuntimeError("not converged")


def scipy(fast):
    found = least_squares(lambda x: fast.both(x)[0], fast.x0, jac=lambda x: fast.both(x)[1], method="lm", xtol=1e-10, ftol=1e-10, gtol=1e-10)
    np.linalg.inv(found.jac.T @ found.jac)
    return found.x


def median(work, rounds):
    times = []
    for _ in range(rounds):
        start = time.perf_counter()
        work()
        times.append(time.perf_counter() - start)
    return sorted(times)[rounds // 2] * 1000.0


if __name__ == "__main__":
    with open(sys.argv[1], encoding="utf-8") as file:
        fast = Fast(json.load(file))
    fast.check()
    off = np.max(np.abs(textbook(fast) - scipy(fast)))
    print(f"{'the same network, numpy, dense normal equations':<52} {median(lambda: textbook(fast), 11):>7.2f} ms")
    print(f"{'the same network, scipy least_squares (lm)':<52} {median(lambda: scipy(fast), 5):>7.2f} ms")
    print(f"(their answers differ by at most {off:.1e} mm or rad; {len(fast.x0)} unknowns, {len(fast.both(fast.x0)[0])} rows)")
