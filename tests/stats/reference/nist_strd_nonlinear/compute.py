"""Certified values of NIST StRD nonlinear problems (certified.json, copied from the NIST files) and an
independent refit with scipy.optimize.least_squares from the certified Start 2 (and, if it converges, Start 1)."""
import sys, os, json
D = os.path.dirname(os.path.abspath(__file__)); sys.path.insert(0, os.path.join(D, "..", "_lib"))
from expect import *; import numpy as np
from numpy import exp, cos, sin, arctan, pi, log
from scipy.optimize import least_squares
cert = json.load(open(os.path.join(D, "certified.json")))
c = Case(__file__, "nist_strd_nonlinear", "NIST Statistical Reference Datasets, nonlinear regression", "NIST/ITL StRD, Nonlinear Regression, https://www.itl.nist.gov/div898/strd/nls/nls_main.shtml (Rogers J, Filliben J, Gill L, Guthrie W, Lagergren E, Vangel M, 1998)",
  [p["name"] + ".csv" for p in cert] + ["certified.json"],
  ["Certified to 11 significant digits (parameters, their standard deviations, residual SS and SD); accept about 6 digits or more from Start 2, and from Start 1 where it converges.",
   "certified.json holds starts, model strings and degrees of freedom.",
   "Nelson is fitted to log(y).", "Standard deviations use n - p degrees of freedom; the NIST file of Rat43 prints 9 degrees of freedom but its certified SDs correspond to n - p = 11."])
S = "NIST StRD certified values, file %s.dat"
for p in cert:
    p["df"] = p["n"] - len(p["b"])   # the Rat43 file prints 9; its certified SDs use n - p = 11
    n = p["name"]; r = read_csv(os.path.join(D, n + ".csv")); y = np.array([float(q["y"]) for q in r])
    E = dict(pi=pi, exp=exp, cos=cos, sin=sin, arctan=arctan)
    if n == "Nelson": E["x1"] = np.array([float(q["x1"]) for q in r]); E["x2"] = np.array([float(q["x2"]) for q in r]); y = log(y)
    else: E["x"] = np.array([float(q["x"]) for q in r])
    code = compile(p["model"].split("[")[0], n, "eval")
    f = lambda b: y - eval(code, {}, {**E, **{f"b{i+1}": v for i, v in enumerate(b)}})
    # complex-step Jacobian: exact derivatives for the standard errors
    def jac(b):
        b = np.asarray(b, float); J = np.empty((len(y), len(b)))
        for k in range(len(b)):
            z = b.astype(complex); z[k] += 1e-30j; J[:, k] = -np.imag(eval(code, {}, {**E, **{f"b{i+1}": v for i, v in enumerate(z)}})) / 1e-30
        return J
    for k, nm in ((p["b"], "b"), (p["se"], "se")): c.pub(f"{n}_{nm}", k, S % n); c.o["expected"][-1]["tol"] = dict(rel=1e-6)
    c.pub(f"{n}_rss", p["rss"], S % n); c.o["expected"][-1]["tol"] = dict(rel=1e-6)
    c.pub(f"{n}_rsd", p["rsd"], S % n); c.o["expected"][-1]["tol"] = dict(rel=1e-6)
    c.o["expected"][-1]["df"] = p["df"]
    best = None; conv = {}
    for nm in ("start1", "start2"):
        try:
            with np.errstate(all="ignore"):
                s = least_squares(f, p[nm], jac=jac, method="lm", xtol=1e-15, ftol=1e-15, gtol=1e-15, x_scale=np.abs(p["b"]), max_nfev=20000)
                b = s.x
                for _ in range(6):                      # Gauss-Newton polish
                    step = np.linalg.lstsq(jac(b), -f(b), rcond=None)[0]
                    if not np.isfinite(step).all() or (f(b + step)**2).sum() > (f(b)**2).sum() * (1 + 1e-10): break
                    b = b + step
            conv[nm] = float(max(abs(b / np.array(p["b"]) - 1)))
            if best is None or (f(b)**2).sum() < (f(best)**2).sum(): best = b
        except Exception as e: conv[nm] = None
    J = jac(best); rss = (f(best)**2).sum(); se = np.sqrt(np.diag(np.linalg.inv(J.T @ J)) * rss / p["df"]) if np.linalg.cond(J) < 1e8 else None
    if se is None:
        sc = np.sqrt((J**2).sum(0)); Q = np.linalg.inv((J/sc).T @ (J/sc)); se = np.sqrt(np.diag(Q) * rss / p["df"]) / sc
    db = max(abs(best / np.array(p["b"]) - 1)); ds = max(abs(se / np.array(p["se"]) - 1)); dr = abs(rss / p["rss"] - 1)
    c.comp(f"{n}_refit_max_rel_diff_b_se_rss", [db, ds, dr], "scipy least_squares(method='lm') + Gauss-Newton polish, complex-step Jacobian; difference from certified", rel=0, abs=1)
    print(f"  {n:9s} start1 {conv.get('start1')} start2 {conv.get('start2')}  b {db:.1e} se {ds:.1e} rss {dr:.1e}")
c.finish()
