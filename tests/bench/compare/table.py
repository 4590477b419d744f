# Puts the times of compare.sh side by side. The answers must agree, or there is nothing to compare.
import sys


def read(name):
    out = {}
    with open(f"{sys.argv[1]}/{name}") as f:
        for line in f:
            task, *numbers = line.split()
            out[task] = [float(n) for n in numbers]
    return out


ours, others = read("ours"), {"R": read("r"), "Python": read("python"), "`wc -l`": read("wc")}
titles = {
    "posterior": "posterior of 10 runs of 4 marks (Metropolis, 10,000 effective draws)",
    "icc": "ICC with F intervals",
    "read": "reading a log of 1,000,000 rows",
}
tolerance = {"posterior": 0.05, "icc": 1e-5, "read": 1e-6}


def digits(x):
    """Three digits, never with an exponent."""
    return format(float("%.3g" % x), ",.10g")


def seconds(low, median, high):
    unit, scale = ("s", 1) if median >= 1 else ("ms", 1e3) if median >= 1e-3 else ("us", 1e6)
    return f"{digits(median * scale)} {unit} ({digits(low * scale)}-{digits(high * scale)})"


print("| task | bagsplit, median (quartiles) | beside it | median (quartiles) | ratio |\n|---|---|---|---|---|")
for task, title in titles.items():
    mine = ours[task]
    for name, answers in others.items():
        if task not in answers:
            continue
        theirs = answers[task]
        for i, (a, b) in enumerate(zip(mine[3:], theirs[3:])):
            if abs(a - b) > tolerance[task] * max(abs(a), abs(b)):
                sys.exit(f"{task}: answer {i} is {a} here and {b} in {name}: not the same work")
        ratio = theirs[0] / mine[0]
        print(f"| {title} | {seconds(mine[1], mine[0], mine[2])} | {name} | {seconds(theirs[1], theirs[0], theirs[2])} | {digits(ratio)} |")
