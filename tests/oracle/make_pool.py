"""Reference pools of cars for shared/src/library: data, and the answers of other programs.

    python3 make_pool.py > pool.json        (needs numpy, scipy, and Rscript with metafor for pool.R)

Cases, all by restricted maximum likelihood:
  bcg        thirteen trials of the BCG vaccine (Colditz et al., JAMA 271 (1994); data of metadat), log
             risk ratios: one quantity
  full       ten cars, three axes, full covariance within and between cars, some axes missing: metafor
  diagonal   six cars, three axes, no covariance between axes: metafor
  pairs      nine cars, both sides of a pair, three of them with one side only; covariance between cars
             in two blocks: here, the likelihood written out and minimised by scipy
"""

import json
import pathlib
import subprocess
import sys
import tempfile

import numpy as np
from scipy.optimize import minimize

HERE = pathlib.Path(__file__).parent
rng = np.random.default_rng(20260302)


def covariance(size, scale):
    a = rng.normal(size=(size, size + 2)) * scale / np.sqrt(size + 2)
    return a @ a.T + 0.05 * scale**2 * np.eye(size)


def by_r(*args):
    out = subprocess.run(["Rscript", HERE / "pool.R", *args], capture_output=True, text=True, check=True).stdout
    return [[float(v) for v in line.split()] for line in out.splitlines() if line.strip()]


def square(values):
    n = round(len(values) ** 0.5)
    return np.array(values).reshape(n, n).tolist()


def axes_case(cars, struct, between, missing):
    studies, lines = [], []
    for car in range(cars):
        axes = [a for a in range(3) if (car, a) not in missing]
        s = covariance(3, 0.4)[np.ix_(axes, axes)]
        b = rng.multivariate_normal(np.zeros(3), between)[axes]
        y = np.array([100.0, -545.0, 840.0])[axes] + b + rng.multivariate_normal(np.zeros(len(axes)), s)
        y, s = np.round(y, 4), np.round(s, 6)
        studies.append({"y": y.tolist(), "x": np.eye(3)[axes].tolist(), "s": s.tolist()})
        for row, axis in enumerate(axes):
            rest = list(s[row]) + [0.0] * (3 - len(axes))
            lines.append([car, axis, y[row], *rest])
    with tempfile.NamedTemporaryFile("w", suffix=".csv") as file:
        file.write("car,axis,y,s1,s2,s3\n")
        file.writelines(",".join(repr(float(v)) for v in line) + "\n" for line in lines)
        file.flush()
        mean, cov, g = by_r(file.name, struct)
    return {"by": "metafor 3.8-1, rma.mv", "studies": studies, "structure": struct.lower(),
            "mean": mean, "covariance": square(cov), "between": square(g)}


def form(side, axis):
    row = np.zeros(6)
    left = 1 if side == 0 else -1
    row[axis], row[3 + axis] = (-left, 0.5) if axis == 1 else (1.0, 0.5 * left)
    return row


def pairs_case():
    true = np.array([-60.0, 545.0, 840.0, 0.5, -0.3, 2.0])
    between = np.zeros((6, 6))
    between[:3, :3], between[3:, 3:] = covariance(3, 1.2), covariance(3, 0.8)
    studies = []
    for car in range(9):
        sides = {6: [0], 7: [0], 8: [1]}.get(car, [0, 1])
        x = np.array([form(side, axis) for side in sides for axis in range(3)])
        s = covariance(len(x), 0.6)
        y = x @ (true + rng.multivariate_normal(np.zeros(6), between)) + rng.multivariate_normal(np.zeros(len(x)), s)
        studies.append({"y": np.round(y, 4).tolist(), "x": x.tolist(), "s": np.round(s, 6).tolist()})
    return {"by": "numpy and scipy", "studies": studies, "structure": "blocks", **reml(studies)}


def reml(studies):
    """Minimises the restricted likelihood over Cholesky factors of the two blocks."""
    data = [tuple(np.array(study[k]) for k in "yxs") for study in studies]
    low = np.tril_indices(3)

    def psi(theta):
        full = np.zeros((6, 6))
        for block in range(2):
            factor = np.zeros((3, 3))
            factor[low] = theta[6 * block: 6 * block + 6]
            full[3 * block: 3 * block + 3, 3 * block: 3 * block + 3] = factor @ factor.T
        return full

    def solve(theta):
        v = [np.linalg.inv(x @ psi(theta) @ x.T + s) for _, x, s in data]
        normal = sum(x.T @ w @ x for (_, x, _), w in zip(data, v))
        mean = np.linalg.solve(normal, sum(x.T @ w @ y for (y, x, _), w in zip(data, v)))
        likelihood = np.linalg.slogdet(normal)[1] - sum(np.linalg.slogdet(w)[1] for w in v)
        likelihood += sum((y - x @ mean) @ w @ (y - x @ mean) for (y, x, _), w in zip(data, v))
        return likelihood, mean, np.linalg.inv(normal)

    best = None
    for start in range(6):
        theta = np.tile(np.array([1.0, 0, 1, 0, 0, 1]), 2) + (rng.normal(size=12) * 0.3 if start else 0)
        for method, options in [("BFGS", {"gtol": 1e-9, "maxiter": 2000}),
                                ("Nelder-Mead", {"xatol": 1e-10, "fatol": 1e-14, "maxiter": 40000, "maxfev": 40000}),
                                ("BFGS", {"gtol": 1e-9, "maxiter": 2000})]:
            found = minimize(lambda t: solve(t)[0], theta, method=method, options=options)
            theta = found.x
        if best is None or found.fun < best.fun:
            best = found
    _, mean, cov = solve(best.x)
    return {"mean": mean.tolist(), "covariance": cov.tolist(), "between": psi(best.x).tolist()}


def bcg():
    y, v, mean, cov, tau2 = by_r("bcg")
    studies = [{"y": [a], "x": [[1.0]], "s": [[b]]} for a, b in zip(y, v)]
    return {"by": "metafor 3.8-1, rma", "studies": studies, "structure": "diag",
            "mean": mean, "covariance": [cov], "between": [tau2]}


def main():
    full = np.array([[0.8, 0.2, -0.3], [0.2, 1.5, 0.1], [-0.3, 0.1, 0.6]])
    cases = {
        "bcg": bcg(),
        "full": axes_case(10, "UN", full, {(3, 0), (7, 2), (7, 1)}),
        "diagonal": axes_case(6, "DIAG", np.diag([1.0, 0.6, 1.4]), {(2, 1)}),
        "pairs": pairs_case(),
    }
    json.dump(cases, sys.stdout, indent=1)
    print()


main()
