"""Fastest base path of a runner with propulsion (V - v)/tau, braking and lateral limits on a friction ellipse, by a method that
shares nothing with the library: each leg is cut in K pieces of constant control (alpha, beta) in the unit disc, the motion
    x' = v cos h, y' = v sin h, v' = alpha (V - v)/tau  (alpha >= 0) or alpha B (alpha < 0),  h' = beta L / v
is integrated by Runge-Kutta steps, and scipy's SLSQP minimises the sum of the leg durations. Being feasible, each answer is an
upper bound of the optimum of the model but for speed 0.02 m/s in place of rest: worth 0.02 tau/V at a start, 0.02/B at a stop. Prints
total, leg times and speeds at the bags.

    python3 runner_path.py

Used for numbers marked "Computed: scipy 1.10.1, runner_path.py" in the tests. Python 3.11.2, numpy 1.24.2, scipy 1.10.1.
"""
import numpy as np
from scipy.optimize import minimize

CASES = [  # V, tau, L, B, base distance, legs, stop
    (6.2, 0.85, 5.0, 4.0, 18.288, 4, False),
    (7.0, 1.1, 3.5, 3.0, 18.288, 2, True),
]
START = 0.02


def solve(V, tau, L, B, D, legs, stop, K, sub=4, seed=0):
    bags = D * np.array([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)], float)[: legs + 1]
    rng = np.random.default_rng(seed)

    def rate(s, a, b):
        v = np.maximum(s[2], 1e-3)
        return np.array([v * np.cos(s[3]), v * np.sin(s[3]), np.where(a >= 0, a * (V - v) / tau, a * B), b * L / v])

    def run(Z):
        """Z: batch x unknowns. Returns durations and states at the ends of the legs, batch first."""
        T = np.exp(np.clip(Z[:, :legs], -2, 3))  # wild trial steps stay finite
        C = Z[:, legs + 1:].reshape(len(Z), legs, K, 2)
        s = np.array([np.zeros(len(Z)), np.zeros(len(Z)), np.full(len(Z), START), Z[:, legs]])
        ends = []
        for i in range(legs):
            for k in range(K):
                n = sub if (i or k) else 8 * sub
                d = T[:, i] / (K * n)
                a, b = C[:, i, k, 0], C[:, i, k, 1]
                for _ in range(n):
                    k1 = rate(s, a, b); k2 = rate(s + d / 2 * k1, a, b); k3 = rate(s + d / 2 * k2, a, b); k4 = rate(s + d * k3, a, b)
                    s = s + d / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
            ends.append(s)
        return T, np.array(ends).transpose(2, 0, 1)

    def misses(Z):
        _, e = run(Z)
        r = ((e[:, :, :2] - bags[1:]) / D).reshape(len(Z), -1)
        return np.column_stack([r, (e[:, -1, 2] - START) / V]) if stop else r

    def jac(z):
        step = 1e-6
        Z = np.vstack([z, z + step * np.eye(len(z)), z - step * np.eye(len(z))])
        m = misses(Z)
        return ((m[1:len(z) + 1] - m[len(z) + 1:]) / (2 * step)).T

    z0 = np.zeros(legs + 1 + 2 * legs * K)
    z0[:legs] = np.log(1.35 * D / (0.8 * V))
    z0[legs] = -0.3
    C = z0[legs + 1:].reshape(legs, K, 2)
    C[:, :, 0], C[:, :, 1] = 0.5, 0.35
    C[0, : K // 3, 1] = 0.0
    if stop:
        C[-1, K // 2:, 0] = -0.5
    C += 0.05 * rng.standard_normal(C.shape)

    def jcone(z):
        A = z[legs + 1:].reshape(-1, 2)
        J = np.zeros((len(A), len(z)))
        for k in range(len(A)):
            J[k, legs + 1 + 2 * k: legs + 3 + 2 * k] = -2 * A[k]
        return J

    r = minimize(lambda z: np.exp(z[:legs]).sum(), z0, jac=lambda z: np.concatenate([np.exp(z[:legs]), np.zeros(len(z) - legs)]),
                 method="SLSQP", options=dict(maxiter=500, ftol=1e-9),
                 constraints=[dict(type="eq", fun=lambda z: misses(z[None])[0], jac=jac),
                              dict(type="ineq", fun=lambda z: 1 - (z[legs + 1:].reshape(-1, 2) ** 2).sum(1), jac=jcone)])
    T, e = run(r.x[None])
    return r.fun, T[0], e[0][:, 2], np.abs(misses(r.x[None])).max(), r.message


if __name__ == "__main__":
    for case in CASES:
        for K in (8, 12):
            best = solve(*case, K)
            print(case, "K", K, "total %.4f" % best[0], "legs", np.round(best[1], 4), "speeds", np.round(best[2], 3),
                  "miss %.0e" % best[3], best[4], flush=True)
