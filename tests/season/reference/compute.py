"""Makes NAME.json beside this file: invented seasons (worlds.py) and what season_model.py says of them.

    OMP_NUM_THREADS=1 /usr/bin/python3 tests/season/reference/compute.py      (numpy 1.24.2, scipy 1.10.1, Python 3.11)
"""
import json, math, os, tempfile
import numpy as np
import season_model as R
import worlds

HERE = os.path.dirname(os.path.abspath(__file__))
CASES = {
    'normal': dict(seed=1, N=20),
    'steps': dict(seed=101, N=16, shape='step', law='fixed', pi=.33, days=(0, 7, 14, 28, 42, 49, 63, 70, 77, 91)),
    'three_courses': dict(seed=301, N=16, courses=(('home-first', 3), ('home-second', 2), ('circuit', 1)), law='fixed', pi=.33, vonly=True),
    'wind': dict(seed=601, N=16, pi=.25, law='fixed', wind=lambda g, J: g.normal(0, 1.5, J)),
    'slips': dict(seed=701, N=20, slips=4, law='fixed', pi=.25),
    'two_evenings': dict(seed=801, N=14, days=(0, 56), law='fixed', pi=.4),
    'mixed': dict(seed=901, N=14, days=(0, 10, 24, 45, 66), courses=(('home-first', 2), ('home-second', 1), ('circuit', 1)), law='fixed', pi=.35),
}

def mix(rows):
    """A second watch on some runs, gates on others, a change of timer and of ground, a mark more on the circuit."""
    g = np.random.default_rng([78, 1])
    dates = sorted({r['date'] for r in rows}); out = []
    for r in rows:
        j = dates.index(r['date']); r = dict(r, timer='AK' if j < 3 else 'BL', surface='grass' if j in (0, 1, 4) else 'clay')
        if r['course'] == 'home-first' and j % 2 and r['trial'] == '1':
            r = dict(r, device='gate', timer='G1', y=round(r['y'] + .07, 3))
        out.append(r)
        if r['course'] == 'home-second' and j != 2:
            out.append(dict(r, timer='CD', y=round(r['y'] + .03 + g.normal(0, .06), 2)))
        if r['course'] == 'circuit':
            out.append(dict(r, mark='second', y=round(.49 * r['y'] + g.normal(0, .06), 2)))
    return out

def inputs(rows, ro, s):
    cm = sorted({(r['course'], r['mark']) for r in rows}); timers = sorted({(r['device'], r['timer']) for r in rows})
    devs = sorted({r['device'] for r in rows}); surf = sorted({r['surface'] for r in rows}); runs = sorted({(r['course'], r['trial']) for r in rows})
    levels = [dict(name='/'.join(c), distance_m=R.course_distance(c[0])[0], turns=R.COURSE[c[0]][1], loop=R.course_distance(c[0])[1]) for c in cm]
    d0 = R.date.fromisoformat(s.dates[0])
    kids = [dict(name=p, sex=ro[p]['sex'], age_yr=(d0 - R.date.fromisoformat(ro[p]['born'])).days / 365.25) for p in s.players]
    tab = [[s.players.index(r['player']), s.dates.index(r['date']), cm.index((r['course'], r['mark'])), runs.index((r['course'], r['trial'])),
            timers.index((r['device'], r['timer'])), devs.index(r['device']), surf.index(r['surface']), r['wind'], r['y']] for r in rows]
    return dict(days=[float(x) for x in s.day], children=kids, levels=levels, timers=[R.DEV[d]['own'] for d, _ in timers],
                timer_device=[devs.index(d) for d, _ in timers], devices=[R.DEV[d] for d in devs], grounds=len(surf), reference=cm.index(s.ref),
                columns='child date level run timer device ground wind_mps time_s'.split(), readings=tab)

def ability(s, i):
    """Mean and SD of the time at the reference on the last date."""
    k = s.kid[i]
    if s.ref not in k.med: return None
    wt = np.zeros(s.J); wt[-1] = 1
    W, M, S, *_ = s.mixture(i, wt, level=True); Mr = max(k.med[s.ref] - R.P['rt'], .5); m = float(W @ M / W.sum()); v = float(W @ (S * S + (M - m)**2) / W.sum())
    return [k.med[s.ref] + Mr * m, Mr * math.sqrt(v)]

def shared(s, c):
    """Mean and covariance of what the squad shares at a point: the first child's mixture, its own change counted in."""
    lB, w, mA, v, m0, W, WU, *_ = c[2][0]; wk = c[1][0] * w; mean = m0 - WU @ (wk * mA); dm = -WU * mA
    return mean, W + (WU * (wk * v)) @ WU.T + (dm * wk) @ dm.T - np.outer(mean - m0, mean - m0)

def squad(s, r):
    g = [shared(s, c) for c in s.comp]; f = float(s.windows() @ s.t)
    mean = sum(w * m for w, (m, _) in zip(s.cw, g)); second = sum(w * (V + np.outer(m, m)) for w, (m, V) in zip(s.cw, g))
    sd = np.sqrt(np.diag(second) - mean**2); names = {}
    for (kind, _), m, d in zip(s.names, mean, sd): names.setdefault(kind, []).append([float(m), float(d)])
    return dict({k: r[k] for k in ('evening_sd', 'form_sd', 'effort_sd', 'share_changed', 'size_of_changes', 'slip_rate', 'detectable')},
                common_move=[float(mean[-1]) * f, float(sd[-1]) * f], shared=names)

def main():
    for name, how in CASES.items():
        how = dict(how); seed = how.pop('seed')
        with tempfile.TemporaryDirectory() as d:
            worlds.sim(seed, d, **how); rows, ro = R.read_folder(d)
        if name == 'mixed': rows = mix(rows)
        s = R.Season(rows, ro).fit(); r = R.report(s)
        slips = [[rows.index(x), float(p)] for k in s.kid for x, p in zip(k.rows, k.slip) if p > .05]
        out = dict(source=f'invented: worlds.py, seed {seed}; answers: season_model.py. Made by compute.py, numpy {np.__version__}',
                   season=inputs(rows, ro, s), squad=squad(s, r), slips=slips,
                   children=[dict({k: v for k, v in o.items() if k not in ('slips',)}, ability=ability(s, i)) for i, o in enumerate(r['players'])])
        with open(os.path.join(HERE, name + '.json'), 'w') as f:
            text = json.dumps(out, indent=None, separators=(',', ':')).replace('],[', '],\n[').replace('},{', '},\n{')
            f.write(text + '\n')
        print(name, len(rows), 'readings', {k: round(v, 5) for k, v in out['squad'].items() if isinstance(v, float)}, 'slips', [(x, round(p, 2)) for x, p in slips])

if __name__ == '__main__':
    main()
