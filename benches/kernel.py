"""How fast the notebook kernel starts, beside the Python kernel in turn in one run, and what 200 opens of a log of 100 MB
leave in its memory.

    python3 benches/kernel.py PROGRAM [--opens 200]

Needs jupyter_client and ipykernel (tests/python/requirements.txt).
"""

import argparse
import os
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

from jupyter_client.manager import KernelManager


def started(name):
    """Seconds from the start of the process to the answer to its first question."""
    manager = KernelManager(kernel_name=name)
    manager.cache_ports = False
    client = None
    begun = time.perf_counter()
    manager.start_kernel()
    client = manager.client()
    client.start_channels()
    asked = client.kernel_info()
    while client.get_shell_msg(timeout=60)["parent_header"].get("msg_id") != asked:
        pass
    took = time.perf_counter() - begun
    client.stop_channels()
    manager.shutdown_kernel(now=True)
    return took


def memory(pid):
    for line in pathlib.Path(f"/proc/{pid}/status").read_text().splitlines():
        if line.startswith("VmRSS:"):
            return int(line.split()[1]) / 1024
    raise RuntimeError("the system does not tell")


def log_of(megabytes, path):
    """A log of that size: a run of speeds and loads, fifty columns."""
    names = ["Time (s)", "Engine Speed (rpm)", "MAP (kPa)", "TPS (%)", "Battery (V)", "Coolant Temp (degC)"]
    names += [f"EGT Cyl {n} (degC)" for n in range(1, 7)] + [f"Spare {n}" for n in range(38)]
    with open(path, "w", encoding="utf-8") as file:
        file.write(",".join(names) + "\n")
        row, size = 0, 0
        while size < megabytes << 20:
            rpm = 900 + row * 7 % 5000
            values = [f"{row / 100:.2f}", rpm, 40 + row % 60, row % 100, f"{13 + row % 10 / 10:.1f}", 20 + row % 70]
            values += [400 + (row * n) % 300 for n in range(1, 7)] + [row * n % 10000 for n in range(38)]
            size += file.write(",".join(map(str, values)) + "\n")
            row += 1


def main():
    asks = argparse.ArgumentParser()
    asks.add_argument("program")
    asks.add_argument("--opens", type=int, default=200)
    asks.add_argument("--starts", type=int, default=11)
    args = asks.parse_args()
    with tempfile.TemporaryDirectory() as data:
        os.environ["JUPYTER_DATA_DIR"] = data
        os.environ["JUPYTER_RUNTIME_DIR"] = data + "/runtime"
        subprocess.run([args.program, "kernel", "install"], check=True, stdout=subprocess.DEVNULL)
        times = {"plugread": [], "python3": []}
        for _ in range(args.starts):
            for name, list_of in times.items():
                list_of.append(started(name))
        ours, theirs = (statistics.median(times[n]) for n in times)
        print(f"start to first answer, median of {args.starts}: plugread {1000 * ours:.0f} ms, "
              f"the Python kernel {1000 * theirs:.0f} ms, {theirs / ours:.1f} times as long")
        if not args.opens:
            return
        log = data + "/long.csv"
        log_of(100, log)
        manager = KernelManager(kernel_name="plugread")
        manager.start_kernel()
        client = manager.client()
        client.start_channels()
        client.wait_for_ready(timeout=20)
        pid = manager.provisioner.process.pid
        seen = {}
        for turn in range(1, args.opens + 1):
            reply = client.execute_interactive(f'let run = open("{log}"); run.rpm.max().value', timeout=60,
                                               output_hook=lambda message: None)
            if reply["content"]["status"] != "ok":
                sys.exit(str(reply["content"]))
            if turn in (1, 20, 50, 100, args.opens):
                seen[turn] = memory(pid)
        client.stop_channels()
        manager.shutdown_kernel(now=True)
        print("memory after opens of 100 MB: " + ", ".join(f"{turn}: {mb:.0f} MB" for turn, mb in seen.items()))
        if 20 in seen:
            print(f"after {args.opens} against after 20: {seen[args.opens] / seen[20]:.3f}")


if __name__ == "__main__":
    main()
