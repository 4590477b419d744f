"""Season model of a squad: who changed, beyond growth, and where everybody stands now. Written before the C++ and apart from it;
deterministic. compute.py beside this file runs it. Needs numpy and scipy. Sources of its numbers: lib/bagsplit/inference/season/README.md.
Times in s, speeds in m/s, effects as shares of moving time (+ = slower).
"""
import sys, os, csv, json, math
from datetime import date
import numpy as np
from scipy.linalg import cho_factor, cho_solve, solve_triangular
from scipy.optimize import minimize, brentq
from scipy.special import logsumexp, ndtr

BASE = 18.288
# ---------------------------------------------------------------- constants
GROWTH = {  # per cent of time a year at the age (midpoint of the year), smoothed from published means by age and sex
 'M': {6: -7.2, 7: -5.5, 8: -4.2, 9: -3.7, 10: -3.9, 11: -3.6, 12: -5.0, 13: -4.0, 14: -1.8, 15: -2.2, 16: -1.5, 17: -.7},
 'F': {6: -7.0, 7: -5.4, 8: -4.0, 9: -4.0, 10: -3.5, 11: -2.7, 12: -2.8, 13: -1.7, 14: -.4, 15: -.7, 16: -.3, 17: -.2}}
P = dict(growth_sd=.02,        # child's own yearly rate about the mean, share/yr
         squad_growth_sd=.015, # common to the squad (this population, this country), share/yr
         squad_train_sd=.010,  # common to the squad over a season of 12 weeks, grows with sqrt(time)
         ground_sd=.03, wind_rel_sd=.20, drag_scale=.77, day_cv=.012, effort_cv=.02, prior_log_sd=.5, evening_scale=.010,
         slip_rate=.005, slip_n=200., slip_sd=.6, pi_a=2., pi_b=6., scales=(.02, .035, .06), interval_odds=4., slab_rel_sd=.5, line_w=.7, p_faster=.7, rt=.32, intercept_sd=.25)
DEV = {'stopwatch': dict(sd=.14, own=.05, start=.057, mark=.057), 'gate': dict(sd=.02, own=.005, start=.001, mark=.0085),
       'video': dict(sd=.03, own=.01, start=.01, mark=.01)}
RT_SD = .05

# ---------------------------------------------------------------- running
def sprint_time(d, V, tau):
    return brentq(lambda t: V*(t+tau*(math.exp(-t/tau)-1))-d, 1e-3, 90)
def drag_k(h=1.45, m=38., scale=None):
    """0.5 rho Cd A / m; A = 0.266 * 0.2025 h^0.725 m^0.425 (Du Bois; Arsac & Locatelli 2002), Cd 0.9, times a scale fitted to Linthorne 1994."""
    return .5*1.204*.9*.266*.2025*h**.725*m**.425/m*(P['drag_scale'] if scale is None else scale)
def wind_delta(w, d, V, tau, k, loop=False):
    """Change of time over d by wind w (+ = from behind), first order in k, closed form: v' = (V-v)/tau + k (2 v w - w^2).
    On a loop the linear part cancels and w^2/2 stands for the mean square along the way."""
    t = sprint_time(d, V, tau); E = math.exp(-t/tau); v = V*(1-E)
    lin = (2*V*tau*(t-tau*(1-E)) - 2*V*(tau*tau*(1-E)-tau*t*E))*w
    quad = -w*w*tau*(t-tau*(1-E))
    if loop: lin, quad = 0., quad/2
    return -k*(lin+quad)/v
COURSE = {'home-first': (1, 0), 'home-second': (2, 1), 'home-third': (3, 2), 'circuit': (4, 3)}
def course_distance(c):
    if c in COURSE: return COURSE[c][0]*BASE, COURSE[c][0] > 1
    return float(''.join(x for x in c if x.isdigit() or x == '.') or 20), False
def speed_weight(c, ref, V=5.5, tau=1.1):
    """Sensitivity of log moving time to the change, relative to the reference course: midway between 'V alone' and 'all of the sprint alike'."""
    def s(c):
        d, _ = course_distance(c); turns = COURSE.get(c, (1, 0))[1]
        f = lambda V: sprint_time(d, V, tau)+.34*turns
        return -(math.log(f(V*1.01))-math.log(f(V/1.01)))/(2*math.log(1.01))
    return .5*(1+s(c)/s(ref))
def growth_rate(sex, age):
    t = GROWTH.get(sex) or {a: (GROWTH['M'][a]+GROWTH['F'][a])/2 for a in GROWTH['M']}
    a = sorted(t); return float(np.interp(age, [x+.5 for x in a], [t[x] for x in a]))/100

# ---------------------------------------------------------------- reading
def read_folder(d, roster=None):
    rows = []
    for r in csv.DictReader(l for l in open(os.path.join(d, 'season.csv')) if not l.startswith('#')):
        if r.get('flag'): continue
        marks = [m for m in r if m in ('first', 'second', 'third', 'home') or m[:1].isdigit()]
        for m in marks:
            if r[m]: rows.append(dict(player=r['player'], date=r['date'], course=r['course'], mark=m, trial=r.get('trial', ''), timer=r.get('timer') or '?',
                          device=r.get('device') or 'stopwatch', surface=r.get('surface') or '', wind=float(r['wind']) if r.get('wind') else 0., y=float(r[m])))
    ro = {r['player']: r for r in csv.DictReader(open(os.path.join(d, 'roster.csv')))}
    return rows, ro

# ---------------------------------------------------------------- the linear model
class Season:
    """z = (y - own median)/moving time of a reading, child by child:
       z = a_course + h (growth mean*t + (b + B) t + A phi(t)) + form_date + evening + ground + wind*(1+omega) + timer/M + run + e"""
    def __init__(s, rows, roster, ref=None):
        s.players = sorted({r['player'] for r in rows}, key=lambda p: (len(p), p)); s.dates = sorted({r['date'] for r in rows})
        day = np.array([(date.fromisoformat(d)-date.fromisoformat(s.dates[0])).days for d in s.dates], float); s.day = day
        s.t = (day-day.mean())/365.25; J = len(s.dates); s.J = J
        if J < 2: raise ValueError('one date: nothing to compare')
        cm = [(r['course'], r['mark']) for r in rows]; n = {c: cm.count(c) for c in set(cm)}
        s.ref = ref or max(n, key=lambda c: (n[c], -course_distance(c[0])[0], c)); hs = {c: speed_weight(c[0], s.ref[0]) for c in n}
        timers = sorted({(r['device'], r['timer']) for r in rows}); devs = sorted({r['device'] for r in rows}); surf = sorted({r['surface'] for r in rows})
        s.names = [('evening', d) for d in s.dates]+[('timer', '/'.join(t)) for t in timers]+[('device', d) for d in devs]+[('ground', x) for x in surf]+[('wind', 'scale'), ('squad', 'trend')]
        s.G = len(s.names); ix = {n: k for k, n in enumerate(s.names)}
        T = max(day[-1], 1)/365.25
        s.squad_sd = math.sqrt(P['squad_growth_sd']**2+(P['squad_train_sd']**2*(max(day[-1], 7)/84))/T**2)   # share a year
        s.S0 = np.array([np.nan]*J+[DEV.get(t[0], DEV['stopwatch'])['own']**2 for t in timers]+[DEV.get(d, DEV['stopwatch'])['sd']**2 for d in devs]+[P['ground_sd']**2]*len(surf)+[P['wind_rel_sd']**2, s.squad_sd**2])
        # shapes of a change: a line through the season, a step at each gap
        s.shapes = [(day-day[0])/max(day[-1], 1)]+[(np.arange(J) >= g).astype(float) for g in range(1, J)] if J > 2 else [(np.arange(J) >= 1).astype(float)]
        s.shapes = np.array(s.shapes); s.shape_w = np.array([P['line_w']]+[(1-P['line_w'])/(J-1)]*(J-1)) if J > 2 else np.array([1.])
        s.comp_w = np.concatenate([np.log(s.shape_w)+math.log(P['p_faster']), np.log(s.shape_w)+math.log1p(-P['p_faster'])])
        s.kid = []
        for p in s.players:
            R = [r for r in rows if r['player'] == p]; c = R[0]; ro = roster.get(p, {})
            age = (date.fromisoformat(s.dates[0])-date.fromisoformat(ro['born'])).days/365.25+s.t[-1]-s.t[0] if ro.get('born') else 11.
            k = type('Kid', (), {})(); k.name = p; k.rate = growth_rate(ro.get('sex', ''), age); k.age = age; nn = len(R)
            key = [(r['course'], r['mark']) for r in R]; med = {c: np.median([r['y'] for r, q in zip(R, key) if q == c]) for c in set(key)}
            k.med = med; k.M = np.array([max(med[q]-P['rt'], .5) for q in key]); y = np.array([r['y'] for r in R])
            k.z = (y-np.array([med[q] for q in key]))/k.M; k.h = np.array([hs[q] for q in key]); k.rows = R; k.y = y
            k.j = np.array([s.dates.index(r['date']) for r in R]); k.tt = s.t[k.j]*k.h
            run = [(r['date'], r['course'], r['trial']) for r in R]; same = lambda a: np.array([[x == y for y in a] for x in a], float)
            k.Cs = same(key); k.F = same(k.j.tolist()); k.R = same(run)
            k.st = np.array([[(math.hypot(DEV.get(a['device'], DEV['stopwatch'])['start'] if a['timer'] == b['timer'] else 0, RT_SD)) for b in R] for a in R])**2*k.R/np.outer(k.M, k.M)
            k.mk = np.array([DEV.get(r['device'], DEV['stopwatch'])['mark']**2+1e-4/12 for r in R])/k.M**2
            X = np.zeros((nn, s.G)); off = np.zeros(nn)
            for i, r in enumerate(R):
                X[i, k.j[i]] = 1; X[i, ix['timer', r['device']+'/'+r['timer']]] = 1/k.M[i]; X[i, ix['device', r['device']]] = 1/k.M[i]; X[i, ix['ground', r['surface']]] = 1
                if r['wind']:
                    d, loop = course_distance(r['course'] if r['course'] != 'straight' else r['mark']); tau = 1.1; Mi = k.M[i]-.34*COURSE.get(r['course'], (1, 0))[1]
                    V = brentq(lambda v: sprint_time(d, v, tau)-Mi, .8*d/Mi, 12*d/Mi)
                    off[i] = wind_delta(r['wind'], d, V, tau, drag_k(), loop)/k.M[i]; X[i, ix['wind', 'scale']] = off[i]
            X[:, ix['squad', 'trend']] = k.tt; k.X = X; k.r = k.z-off-k.rate*k.tt; k.w = np.zeros(nn); k.slip = np.zeros(nn); k.Phi = s.shapes[:, k.j].T*k.h[:, None]
            s.kid.append(k)
        s.eps = P['slip_rate']
    def cov(s, k, psi, sb=0.):
        se, sf, sc = psi[:3]
        C = P['intercept_sd']**2*k.Cs+sf**2*k.F+sc**2*k.R+k.st+P['growth_sd']**2*np.outer(k.tt, k.tt)
        if sb: C = C+sb**2*np.outer(k.Phi[:, 0], k.Phi[:, 0])
        C[np.diag_indices_from(C)] += k.mk+k.w   # w: what a suspected slip adds
        return C
    def prior_prec(s, se):
        v = s.S0.copy(); v[:s.J] = se**2; return 1/v
    def gaussian_evidence(s, psi, sb):
        L0 = s.prior_prec(psi[0]); L = np.diag(L0); h = np.zeros(s.G); v = 0.
        for k in s.kid:
            try: c = np.linalg.cholesky(s.cov(k, psi, sb))
            except np.linalg.LinAlgError: return -1e12
            u = solve_triangular(c, np.column_stack([k.X, k.r]), lower=True, check_finite=False); X = u[:, :-1]; r = u[:, -1]
            L = L+X.T@X; h = h+X.T@r; v += -.5*r@r-np.log(np.diag(c)).sum()
        c = cho_factor(L, check_finite=False)
        return v+.5*h@cho_solve(c, h)-np.log(np.diag(c[0])).sum()+.5*np.log(L0).sum()
    def log_prior(s, psi, sb):
        return -.5*(psi[0]/P['evening_scale'])**2+math.log(psi[0]) - .5*(math.log(psi[1]/P['day_cv'])/P['prior_log_sd'])**2 - .5*(math.log(psi[2]/P['effort_cv'])/P['prior_log_sd'])**2 - .5*(sb/.03)**2+math.log(sb)
    def fit_scales(s, x0=None):
        f = lambda x: -(s.gaussian_evidence(np.exp(x[:3]), math.exp(x[3]))+s.log_prior(np.exp(x[:3]), math.exp(x[3]))) if np.all(np.abs(x) < 12) else 1e12
        x0 = np.log([.005, .012, .02, .02]) if x0 is None else x0
        o = minimize(f, x0, method='L-BFGS-B', bounds=[(-8.5, -2.5), (-6.5, -2.5), (-6.5, -2.5), (-7, -2)], options=dict(maxiter=25, ftol=1e-7))
        s.x = o.x; return o.x
    def find_slips(s, passes=3):
        """Each reading beside all others (leave one out, given the squad): P(slip) and the variance it adds."""
        psi = np.exp(s.x[:3]); sb = max(math.exp(s.x[3]), .03); tot = 0
        for _ in range(passes):
            L = np.diag(s.prior_prec(psi[0])); h = np.zeros(s.G); keep = []
            for k in s.kid:
                Ci = np.linalg.inv(s.cov(k, psi, sb)); K = k.X.T@Ci@k.X; q = k.X.T@Ci@k.r; L = L+K; h = h+q; keep.append((Ci, K, q))
            tot = n = 0
            for k, (Ci, K, q) in zip(s.kid, keep):
                W = np.linalg.inv(L)                       # all data: leaving one reading out of B is done below
                Xi = Ci@k.X; Bi = Ci-Xi@W@Xi.T         # inverse covariance of the reading given all others, g included
                res = Ci@k.r-Xi@W@h; d = np.diag(Bi); loo = res/d; var = np.maximum(1/d-k.w, 1e-8)
                D = (P['slip_sd']/k.M)**2
                l1 = math.log(s.eps)-.5*np.log(var+D)-.5*loo**2/(var+D); l0 = math.log1p(-s.eps)-.5*np.log(var)-.5*loo**2/var
                p = 1/(1+np.exp(np.clip(l0-l1, -700, 700))); k.slip = p
                own = k.mk+psi[2]**2+np.diag(k.st)           # a slip's own precision: mixture of the two
                prec = (1-p)/own+p/(own+D); k.w = 1/prec-own; k.w[p < .02] = 0; tot += p.sum(); n += len(p)
            s.eps = (tot+P['slip_rate']*P['slip_n'])/(n+P['slip_n'])
    # ------------------------------------------------------------ who changed: spike and slab, EP over what the squad shares
    def stats(s, psi):
        out = []
        for k in s.kid:
            Cm = s.cov(k, psi); c = np.linalg.cholesky(Cm); Ci = np.linalg.inv(Cm); A = Ci@k.X
            o = type('S', (), {})(); o.P = k.X.T@A; o.p = A.T@k.r; o.U = A.T@k.Phi; o.ff = np.einsum('nk,nk->k', k.Phi, Ci@k.Phi); o.fr = k.Phi.T@(Ci@k.r)
            o.base = -.5*k.r@Ci@k.r-np.log(np.diag(c)).sum()-.5*len(k.r)*math.log(2*math.pi); o.Ci = Ci; out.append(o)
        return out
    def ep(s, st, se, sig, pi, iters=12):
        G, N = s.G, len(st); L0 = np.diag(s.prior_prec(se)); K = np.array([o.P for o in st]); H = np.array([o.p for o in st])
        L = L0+K.sum(0); h = H.sum(0); fl = lambda L, h: (lambda c: .5*h@cho_solve(c, h)-np.log(np.diag(c[0])).sum())(cho_factor(L, check_finite=False)); post = [None]*N
        for it in range(iters):
            worst = 0.
            for i, o in enumerate(st):
                Lc = L-K[i]; hc = h-H[i]; W = np.linalg.inv(Lc+o.P); W = (W+W.T)/2; m0 = W@(hc+o.p)
                WU = W@o.U; I = np.maximum(o.ff-np.einsum('gk,gk->k', o.U, WU), 0); a = o.fr-o.U.T@m0
                s2 = (P['slab_rel_sd']*sig)**2; v1 = s2/(1+s2*I); v = np.concatenate([v1, v1])   # A ~ +-N(sig, (rel sig)^2): faster, slower
                mf, ms = v1*(a-sig/s2), v1*(a+sig/s2); mA = np.concatenate([mf, ms]); lbf = np.concatenate([-.5*np.log1p(s2*I)+.5*mf*mf/v1-.5*sig**2/s2, -.5*np.log1p(s2*I)+.5*ms*ms/v1-.5*sig**2/s2])
                WU = np.hstack([WU, WU]); lw = s.comp_w+lbf; lB = logsumexp(lw); w = np.exp(lw-lB)
                ps = 1/(1+(1-pi)/pi*math.exp(-min(lB, 600))); wk = ps*w
                mean = m0-WU@(wk*mA); dm = -WU*mA
                V = W+(WU*(wk*v))@WU.T+(dm*wk)@dm.T-np.outer(mean-m0, mean-m0)
                Ln = np.linalg.inv((V+V.T)/2); Kn = Ln-Lc; Hn = Ln@mean-hc
                worst = max(worst, np.abs(Hn-H[i]).max()/(np.abs(H[i]).max()+1)); L = Lc+Kn; h = hc+Hn; K[i] = Kn; H[i] = Hn
                post[i] = (lB, w, mA, v, m0, W, WU, Lc, hc)
            if worst < 1e-4: break
        q = fl(L, h); pr = -.5*np.log(np.diag(L0)).sum(); Z = q-pr; lBF = np.array([p[0] for p in post])
        for i, o in enumerate(st):
            lB, *_, Lc, hc = post[i]
            Z += o.base+fl(Lc+o.P, hc+o.p)-q+np.logaddexp(math.log1p(-pi), math.log(pi)+lB)
        return Z, lBF, post
    def fit(s, slips=True):
        s.fit_scales()
        if slips:
            s.find_slips()
            if any((k.slip > .3).any() for k in s.kid): s.fit_scales(s.x); s.find_slips(2)
        psi = np.exp(s.x[:3]); sb = math.exp(s.x[3]); s.psi = psi
        grid = np.exp(np.linspace(math.log(max(psi[0], 8e-4))-1.2, math.log(max(psi[0], 8e-4))+1.2, 5)); lg = [s.gaussian_evidence((e, psi[1], psi[2]), sb)+s.log_prior((e, psi[1], psi[2]), sb) for e in grid]
        keep = [(e, l) for e, l in zip(grid, lg) if l > max(lg)-4]
        pig = np.array([.02, .05, .1, .2, .3, .4, .55, .7, .9]); lpp = (P['pi_a']-1)*np.log(pig)+(P['pi_b']-1)*np.log1p(-pig)+np.log(np.gradient(pig))
        s.st = s.stats(psi); s.comp = []      # (log weight, pslab per kid, post)
        pi = .2
        for e, l in keep:
            for sig in P['scales']:
                Z, lBF, post = s.ep(s.st, e, sig, pi)
                lz = np.array([np.logaddexp(np.log1p(-p), np.log(p)+lBF).sum() for p in pig]); base = np.logaddexp(math.log1p(-pi), math.log(pi)+lBF).sum()
                lw = lz+lpp; tot = logsumexp(lw); wp = np.exp(lw-tot)
                ps = np.array([(wp/(1+(1-pig)/pig*np.exp(-min(b, 600)))).sum() for b in lBF]); pi = min(max((wp*pig).sum(), .03), .8)
                s.comp.append((Z-base+tot-.5*(e/P['evening_scale'])**2, ps, post, sig, (wp*pig).sum()))
        lw = np.array([c[0] for c in s.comp]); s.cw = np.exp(lw-logsumexp(lw)); s.pi = float(sum(w*c[4] for w, c in zip(s.cw, s.comp))); s.sig = float(sum(w*c[3] for w, c in zip(s.cw, s.comp)))
        return s
    def mixture(s, i, wt, level=False, odds=None):
        """Mixture of Gaussians of sum_j wt_j * state(t_j) of child i (share of the moving time over the reference course).
        level: with the child's own intercept. Returns weights, means, SDs, and those of the part beyond growth (A phi alone)."""
        k = s.kid[i]; o = s.st[i]; dT = float(wt@s.t); c = P['growth_sd']**2*dT*k.tt; v0 = P['growth_sd']**2*dT**2
        if level:
            rf = np.array([(r['course'], r['mark']) == s.ref for r in k.rows], float); c = c+P['intercept_sd']**2*rf; v0 += P['intercept_sd']**2
        Cc = o.Ci@c; const = k.rate*dT+Cc@k.r; vq = max(v0-c@Cc, 0); Lg = -k.X.T@Cc; Lg[-1] += dT; dphi = s.shapes@wt; LA0 = dphi-k.Phi.T@Cc; dphi = np.concatenate([dphi, dphi]); LA0 = np.concatenate([LA0, LA0])
        W_, M_, S_, B_, BS_ = [], [], [], [], []
        for cw, (lz, ps, post, sig, _) in zip(s.cw, s.comp):
            if cw < 1e-4: continue
            lB, w, mA, v, m0, W, WU, *_ = post[i]; g0 = const+Lg@m0; gv = vq+Lg@W@Lg; LA = LA0-Lg@WU
            pi_ = ps[i] if odds is None else 1/(1+math.exp(-min(max(lB, -600), 600))/odds)
            W_ += [cw*(1-pi_)]+list(cw*pi_*w); M_ += [g0]+list(g0+LA*mA); S_ += [math.sqrt(gv)]+list(np.sqrt(gv+LA**2*v)); B_ += [0.]+list(dphi*mA); BS_ += [0.]+list(np.abs(dphi)*np.sqrt(v))
        return tuple(map(np.array, (W_, M_, S_, B_, BS_)))
    def squad_trend(s):
        """What the whole squad did beyond growth between the windows, share of moving time: mean and SD."""
        f = float(s.windows()@s.t); m = [c[2][0][4][-1]*f for c in s.comp]; v = [c[2][0][5][-1, -1]*f*f for c in s.comp]
        mu = float(s.cw@m); return mu, math.sqrt(max(float(s.cw@(np.array(v)+np.array(m)**2))-mu*mu, 0))
    def windows(s):
        J = s.J; k = 1 if J <= 3 else math.ceil(J/3); w = np.zeros(J); w[:k] -= 1/k; w[J-k:] += 1/k; return w
def mix_cdf(x, W, M, S): return float(W@np.where(S > 0, ndtr((x-M)/np.where(S > 0, S, 1)), (x >= M)*1.))/W.sum()
def mix_q(p, W, M, S): return brentq(lambda x: mix_cdf(x, W, M, S)-p, (M-9*S).min()-1e-9, (M+9*S).max()+1e-9)

# ---------------------------------------------------------------- words
def bayes_fdr(p, level=.05, floor=.90):
    """Largest set of the highest p whose mean of 1-p is at most level; each at least floor."""
    o = np.argsort(-p); m = np.cumsum(1-p[o])/np.arange(1, len(p)+1); n = np.max(np.nonzero(m <= level)[0])+1 if (m <= level).any() else 0
    r = np.zeros(len(p), bool); r[o[:n]] = True; return r & (p >= floor)
def report(s, worth=None, level=.9):
    wt = s.windows(); out = []; worth = .01 if worth is None else worth; lo, hi = (1-level)/2, (1+level)/2
    for i, k in enumerate(s.kid):
        W, M, S, B, BS = s.mixture(i, wt); Mr = k.med.get(s.ref, np.nan)-P['rt']
        if not np.isfinite(Mr): Mr = float(np.median(k.M))
        ev = sorted(set(k.j)); here = np.array([wt[j] for j in ev])
        w4, m4, s4, *_ = s.mixture(i, wt, odds=P['interval_odds'])   # interval: holds for a child that did change, whatever the squad does
        f = mix_cdf(-1e-9, W, B, BS); sl = 1-mix_cdf(1e-9, W, B, BS); fw = mix_cdf(-worth, W, B, BS); sw = 1-mix_cdf(worth, W, B, BS)
        out.append(dict(player=k.name, change_s=float(W@M)*Mr, lo=mix_q(lo, w4, m4, s4)*Mr, hi=mix_q(hi, w4, m4, s4)*Mr, believed_lo=mix_q(lo, W, M, S)*Mr, believed_hi=mix_q(hi, W, M, S)*Mr, p_total_faster=mix_cdf(0., W, M, S), growth_s=k.rate*float(wt@s.t)*Mr, beyond_s=float(W@B)*Mr,
            p_changed=f+sl, p_faster=f, p_slower=sl, p_faster_worth=fw, p_slower_worth=sw, p_steady=1-fw-sw, slips=[dict(date=r['date'], trial=r['trial'], y=r['y'], p=round(float(p), 3)) for r, p in zip(k.rows, k.slip) if p > .5],
            seen_both=bool((here < 0).any() and (here > 0).any())))
    pd = np.array([max(o['p_faster'], o['p_slower']) for o in out]); sure = bayes_fdr(pd)
    for o, su in zip(out, sure):
        d = 'faster' if o['p_faster'] >= o['p_slower'] else 'slower'; p = max(o['p_faster'], o['p_slower'])
        o['verdict'] = ('surely '+d if su else 'probably '+d if p >= .75 else 'leaning '+d if p >= .5 else 'as growth says' if o['p_steady'] >= .9 else 'no sign')
        if not o['seen_both'] and not su: o['verdict'] = 'not seen early and late'
    return dict(reference='/'.join(s.ref), evening_sd=float(s.psi[0]), form_sd=float(s.psi[1]), effort_sd=float(s.psi[2]), share_changed=s.pi, size_of_changes=s.sig, slip_rate=s.eps, detectable=detectable(s), squad_beyond_growth=s.squad_trend(), players=out)
def detectable(s, p=.75, power=.8):
    """Smallest change over the season (a line, share of moving time) that the middle child of this squad would be told with probability power at P >= p."""
    lbar = []
    for i in range(len(s.kid)):
        W = s.comp[int(np.argmax(s.cw))][2][i][5]; o = s.st[i]; lbar.append(o.ff[0]-o.U[:, 0]@W@o.U[:, 0])
    I = float(np.median(lbar)); pi = s.pi; sg = max(s.sig, .02); v = sg**2/(1+sg**2*I)
    need = math.log(p/(1-p))+math.log((1-pi)/pi)+.5*math.log1p(sg**2*I)+math.log(1/s.shape_w[0])*.5
    return (math.sqrt(max(2*need, 0)/v)/I+.8416/math.sqrt(I))*float(s.shapes[0]@s.windows())
