"""Each command on an evaluation day:  python3 tests/bench/morning.py BAGSPLIT

200 players (invented), four stations of three runs each (straight 10 and 20 m, home-first, home-second, circuit), two timers; a relay of 50
teams of four; 600 runs through three light gates; 200 results typed into `record`. Wall time of the whole process, median of five (least,
most), and peak memory. A quiet machine, please.
"""
import math
import os
import random
import statistics
import sys
import tempfile

from measured import run

PLAYERS = 200
STATIONS = [  # course, marks, metres of running to each mark, seconds lost rounding up to it
    ("straight", ["10m", "20m"], [10.0, 20.0], [0.0, 0.0]),
    ("home-first", ["first"], [18.288], [0.1]),
    ("home-second", ["first", "second"], [18.288, 36.576], [0.2, 0.4]),
    ("circuit", ["first", "second", "third", "home"], [18.288, 36.576, 54.864, 73.152], [0.2, 0.5, 0.8, 1.0]),
]
HEADER = "# base-distance: 60 ft\n# device: stopwatch\n# start: signal\n"


def time_to(distance_m, top_speed_mps, tau_s):
    low, high = 0.0, 60.0
    for _ in range(50):
        t = 0.5 * (low + high)
        if top_speed_mps * (t - tau_s * (1.0 - math.exp(-t / tau_s))) < distance_m:
            low = t
        else:
            high = t
    return high


def write_files(folder):
    random.seed(20261128)
    players = [(i + 1, random.gauss(5.9, 0.4), random.gauss(0.95, 0.1), random.gauss(0.3, 0.05)) for i in range(PLAYERS)]
    with open(f"{folder}/roster.csv", "w") as f:
        f.write("player,sex,born\n")
        for i, *_ in players:
            f.write(f"{i},{'FM'[i % 2]},{2014 + i % 5}-{1 + i % 12:02d}-10\n")
    with open(f"{folder}/morning.csv", "w") as f:
        f.write(HEADER + "date,player,course,trial,timer,10m,20m,first,second,third,home\n")
        for course, marks, metres, lost in STATIONS:
            for trial in (1, 2, 3):
                for i, speed, tau, reaction in players:
                    scale, start = math.exp(random.gauss(0, 0.02)), reaction - 0.2 + random.gauss(0, 0.06)
                    at = {m: scale * (time_to(d, speed, tau) + w) + start + random.gauss(0, 0.06) for m, d, w in zip(marks, metres, lost)}
                    cells = ["%.2f" % at[m] if m in at else "" for m in ("10m", "20m", "first", "second", "third", "home")]
                    f.write(f"2026-05-02,{i},{course},{trial},{'AK' if i % 2 else 'RB'},{','.join(cells)}\n")
    with open(f"{folder}/relay.csv", "w") as f:
        f.write("# base-distance: 60 ft\n# device: stopwatch\n# start: signal\ndate,team,leg,player,course,trial,timer,second\n")
        for team in range(PLAYERS // 4):
            clock = 0.0
            for leg in range(4):
                i, speed, tau, _ = players[4 * team + leg]
                clock += time_to(36.576, speed, tau) + 0.5 + random.gauss(0.2, 0.08)
                f.write(f"2026-05-02,t{team + 1},{leg + 1},{i},home-second,{1 + team},AK,{clock:.2f}\n")
    with open(f"{folder}/gates.csv", "w") as f, open(f"{folder}/starts.csv", "w") as s:
        f.write("# date: 2026-05-02\ngate,time\n")
        s.write("player,trial\n")
        clock = 0.0
        for trial in (1, 2, 3):
            for i, speed, tau, _ in players:
                clock += 20.0
                for gate, metres in (("A", 0.5), ("B", 10.5), ("C", 20.5)):
                    f.write(f"{gate},{clock + time_to(metres, speed, tau):.3f}\n")
                s.write(f"{i},{trial}\n")
    with open(f"{folder}/map.csv", "w") as f:
        f.write("# start: beam 0.5 m\ngate,mark\nA,start\nB,10m\nC,20m\n")
    with open(f"{folder}/typed", "w") as f:
        for i, speed, tau, reaction in players:
            f.write("%d %.2f\n" % (i, time_to(18.288, speed, tau) + reaction))
        f.write("quit\n")


def commands(folder):
    log, roster = f"{folder}/morning.csv", ["--roster", f"{folder}/roster.csv"]
    rank = ["--cut", "12", "--next-runs", "10", "--format", "json"]
    return [
        ("check", ["check", log, *roster]),
        ("profile", ["profile", log, *roster, "--format", "json"]),
        ("timers", ["timers", log]),
        ("standings, top speed", ["standings", log, *roster, "--by", "top-speed", *rank]),
        ("standings, time", ["standings", log, *roster, "--by", "time:first@home-first", *rank]),
        ("standings, age-adjusted", ["standings", log, *roster, "--by", "time:first@home-first", "--age-adjusted", *rank]),
        ("teams", ["teams", log, *roster, "--teams", "8", "--format", "json"]),
        ("relay", ["relay", f"{folder}/relay.csv", log, *roster, "--format", "json"]),
        ("report", ["report", log, *roster, "-o", f"{folder}/out.html"]),
        ("gates", ["gates", f"{folder}/gates.csv", "--starts", f"{folder}/starts.csv", "--map", f"{folder}/map.csv"]),
        ("sheet", ["sheet", *roster, "--course", "circuit", "-o", f"{folder}/sheet.html"]),
        ("record", ["record", f"{folder}/typed.csv", *roster, "--course", "home-first", "--base-distance", "60ft", "--date", "2026-05-02"]),
    ]


def run_afresh(program, words, folder):
    for made in ("out.html", "sheet.html", "typed.csv"):
        if os.path.exists(f"{folder}/{made}"):
            os.remove(f"{folder}/{made}")
    with open(f"{folder}/typed") as typed:
        return run([program, *words], typed)


def main():
    with tempfile.TemporaryDirectory() as folder:
        write_files(folder)
        print("| command | s, median (least-most) | peak MB |\n|---|---|---|")
        for name, words in commands(folder):
            times = [run_afresh(sys.argv[1], words, folder) for _ in range(5)]
            seconds = sorted(t for t, _ in times)
            print("| %s | %.2f (%.2f-%.2f) | %.0f |" % (name, statistics.median(seconds), seconds[0], seconds[-1], max(m for _, m in times)), flush=True)


main()
