"""What is measured, and the long campaigns."""

import signal

# A shell starts what goes on in the background without Ctrl-C, and that is handed on to every
# command that a benchmark starts and ends by it.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
