"""Keeps what tests put into the cache out of the user's own, and Ctrl-C in force."""

import atexit
import os
import shutil
import signal
import tempfile

_folder = tempfile.mkdtemp(prefix="reach-tests-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["REACH_CACHE"] = _folder

# A shell starts what goes on in the background without Ctrl-C, and that is handed on to every
# command that a test starts and interrupts.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
