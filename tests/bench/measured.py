"""Wall time and peak memory of one whole process, for the scripts beside this."""
import os
import subprocess
import sys
import time


def run(command, typed=None):
    """Seconds and MB; ends the script where the command fails.  typed: a file for its standard input."""
    start = time.perf_counter()
    process = subprocess.Popen(command, stdin=typed, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
    message = process.stderr.read()
    _, status, usage = os.wait4(process.pid, 0)
    if status != 0:
        sys.exit(f"{' '.join(command)}: {message.decode()[-600:]}")
    return time.perf_counter() - start, usage.ru_maxrss / 1024
