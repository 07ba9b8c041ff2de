"""Keeps what tests put into the cache out of the user's own."""

import atexit
import os
import shutil
import tempfile

_folder = tempfile.mkdtemp(prefix="reach-tests-")
atexit.register(shutil.rmtree, _folder, ignore_errors=True)
os.environ["REACH_CACHE"] = _folder
