"""Invented seasons with truth, for the season model. Moving time scaled; several courses; changes of any law and shape."""
import os,json,math,random,sys
import numpy as np
from datetime import date,timedelta
sys.path.insert(0,os.path.dirname(os.path.abspath(__file__)))
from season_model import sprint_time as T, growth_rate, wind_delta, drag_k, COURSE
def write(out,rows,players,truth,cols='date player course trial timer device surface wind start first second home'.split()):
    os.makedirs(out,exist_ok=True)
    with open(out+'/season.csv','w') as o:
        o.write('# base-distance: 60 ft\n'+','.join(cols)+'\n')
        for r in rows: o.write(','.join(str(r.get(c,'')) for c in cols)+'\n')
    with open(out+'/roster.csv','w') as o:
        o.write('player,sex,born\n'); [o.write(f'{p},{s},{b}\n') for p,s,b in players]
    json.dump(dict(players=truth),open(out+'/truth.json','w'))
MK={'home-first':'first','home-second':'second','circuit':'home'}
def sim(seed,out,N=30,days=(0,7,21,35,49,63,77,84),courses=(('home-first',3),),law='normal',pi=.25,size=.03,shape='line',growth='norm',gsd=.02,squad=.0,ev=.005,form=.012,eff=.018,vonly=False,wind=None,absent=.04,slips=0,onedate=False):
    g=np.random.default_rng([77,seed]); J=len(days); d0=date(2026,4,7); D=[d0+timedelta(days=int(x)) for x in days]; span=days[-1]
    ages=8+7*(g.permutation(N)+.5)/N; sex=g.permutation(['F']*(N//2)+['M']*(N-N//2)); V=4.9+.3*(ages-8)+.15*(sex=='M')+g.normal(0,.28,N); tau=np.clip(g.normal(1.05,.1,N),.8,1.35); rt=np.clip(g.normal(.32,.06,N),.18,.5); loss=np.clip(g.normal(.34,.09,N),.12,.6)
    evf=np.exp(g.normal(0,ev,J)); k=1 if J<=3 else math.ceil(J/3); rows=[];tr=[];pl=[]
    w=wind(g,J) if wind else np.zeros(J); sq=g.normal(0,squad)
    for i in range(N):
        chg=0.
        if g.random()<pi: chg={'normal':lambda:g.normal(0,size),'fixed':lambda:g.uniform(.03,.05)*(-1 if g.random()<.75 else 1),'mostfaster':lambda:-abs(g.normal(0,size)),'model':lambda:(-1 if g.random()<.7 else 1)*g.normal(.035,.0175),'det':lambda:-size}[law]()
        rate=(growth_rate(sex[i],ages[i]) if growth=='norm' else -growth)+g.normal(0,gsd)
        sh=np.array([x/span for x in days]) if shape=='line' else (np.arange(J)>=g.integers(1,J)).astype(float)
        s=rate*np.array(days)/365.25+sq*np.array(days)/span+chg*sh          # share of moving time
        def M(c,f):
            nb,nt=COURSE[c];
            return (T(nb*18.288,V[i]/(1+1.25*f),tau[i])+nt*loss[i]) if vonly else (T(nb*18.288,V[i],tau[i])+nt*loss[i])*(1+f)
        ref=courses[0][0]; base=rt[i]+M(ref,0)
        ab=np.array([rt[i]+M(ref,x) for x in s]); wf=np.zeros(J);wl=np.zeros(J);wf[:k]=1/k;wl[J-k:]=1/k
        pid=str(i+1); pl.append((pid,sex[i],(d0-timedelta(days=round(ages[i]*365.25))).isoformat()))
        tr.append(dict(player=pid,chg_pct=100*chg*float((wl-wf)@sh),true_change=float(ab@(wl-wf)),base=base,last=float(ab[-1]),beyond=float((wl-wf)@sh*chg)))
        for j in range(J):
            if g.random()<absent: continue
            fm=math.exp(g.normal(0,form))
            for c,n in courses:
                nb,nt=COURSE[c]
                for q in range(n):
                    t=rt[i]+g.normal(0,.045)+(M(c,s[j])+(wind_delta(w[j],nb*18.288,V[i],tau[i],drag_k(),nb>1) if w[j] else 0))*evf[j]*fm*math.exp(g.normal(0,eff))
                    y=t-.07+g.normal(0,.055)+g.normal(0,.05); rows.append({'date':D[j].isoformat(),'player':pid,'course':c,'trial':q+1,'timer':'AK','device':'stopwatch','surface':'dry grass','wind':round(float(w[j]),1) if wind else '','start':'signal',MK[c]:f'{y:.2f}'})
    for _ in range(slips):
        r=rows[int(g.integers(len(rows)))]; m=MK[r['course']]; r[m]=f"{float(r[m])+g.choice([-1,1])*g.uniform(.5,1.2):.2f}"; tr[int(r['player'])-1]['slipped']=1
    write(out,rows,pl,tr)
