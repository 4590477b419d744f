"""How cost grows:  python3 tests/bench/growth.py BAGSPLIT [COMMAND...]

Logs of 1,000 to 1,000,000 rows from 10 to 50,000 players (invented: one timer, circuits of four marks) through the commands; wall
time and peak memory of the whole process, the least of three runs where one takes under 3 s. A quiet machine, please.
"""
import math
import random
import sys
import tempfile

from measured import run

SIZES = [(1_000, 10), (10_000, 500), (100_000, 5_000), (1_000_000, 50_000)]
COMMANDS = {
    "check": ["check", "{log}"],
    "profile": ["profile", "{log}", "--format", "csv"],
    "timers": ["timers", "{log}", "--format", "csv"],
    "trend": ["trend", "{log}", "--mark", "first", "--format", "csv"],
    "standings": ["standings", "{log}", "--by", "top-speed", "--cut", "12", "--format", "csv"],
}


def write_log(path, rows, players):
    random.seed(20261128)
    per_player = rows // players
    ability = [random.gauss(0, 0.06) for _ in range(players)]
    with open(path, "w") as f:
        f.write("# base-distance: 60 ft\n# device: stopwatch\n# start: signal\ndate,player,course,trial,timer,first,second,third,home\n")
        for turn in range(per_player):
            day = f"2026-{4 + turn // 28 % 6:02d}-{1 + turn % 28:02d}"
            for player in range(players):
                scale = math.exp(ability[player] + random.gauss(0, 0.02))
                marks = ",".join("%.2f" % (scale * t + random.gauss(0, 0.06)) for t in (4.05, 8.02, 12.10, 16.31))
                f.write(f"{day},{player + 1},circuit,{1 + turn // 168},AK,{marks}\n")


def main():
    program = sys.argv[1]
    only = sys.argv[2:]
    print("| command | rows | players | s | us a row | peak MB | bytes a row |\n|---|---|---|---|---|---|---|")
    with tempfile.TemporaryDirectory() as folder:
        for rows, players in SIZES:
            write_log(f"{folder}/{rows}.csv", rows, players)
        for name, words in COMMANDS.items():
            if only and name not in only:
                continue
            for rows, players in SIZES:
                command = [program] + [w.format(log=f"{folder}/{rows}.csv") for w in words]
                seconds, peak = run(command)
                if seconds < 3:
                    seconds = min(seconds, run(command)[0], run(command)[0])
                print(f"| {name} | {rows:,} | {players:,} | {seconds:.3g} | {1e6 * seconds / rows:.3g} | {peak:.0f} | {peak * 1048576 / rows:.0f} |", flush=True)


main()
