"""Installs the kernel of the program under test into a folder of its own, and tells the notebook libraries of it."""

import atexit
import os
import pathlib
import shutil
import subprocess
import tempfile

PROGRAM = os.environ["PLUGREAD"]
HOME = pathlib.Path(__file__).resolve().parents[2]
SAMPLES = str(HOME / "sample-logs")


def installed():
    """The folder that notebooks look for kernels in. It goes when the test ends."""
    data = tempfile.mkdtemp(prefix="plugread-jupyter-")
    atexit.register(shutil.rmtree, data, ignore_errors=True)
    os.environ["JUPYTER_DATA_DIR"] = data
    os.environ["JUPYTER_RUNTIME_DIR"] = os.path.join(data, "runtime")
    os.environ["JUPYTER_PLATFORM_DIRS"] = "0"
    subprocess.run([PROGRAM, "kernel", "install", "--user"], check=True, stdout=subprocess.DEVNULL)
    return data
