#!/usr/bin/env python3
"""Scanloom from a checkout, with nothing installed but Python: run.py demo | test | speed | install.

This door is kept readable by every Python since 2.7, so that an old one says what is wrong instead of stumbling over
newer words. The work is done by the files in scripts/, which want Python 3.11 or newer.
"""

from __future__ import print_function

import os
import subprocess
import sys

OLDEST, NEWEST = (3, 11), (3, 13)  # a test compares them with requires-python in pyproject.toml
MINORS = list(range(NEWEST[1], OLDEST[1] - 1, -1))
ROOT = os.path.dirname(os.path.abspath(__file__))


def other_python():
    """Find a supported Python beside this one; each is started once, for a name on PATH alone proves nothing."""
    question = "import sys; sys.exit(not %r <= sys.version_info[:2] <= %r)" % (OLDEST, NEWEST)
    candidates = [["python3.%d" % minor] for minor in MINORS] + [["python3"]]
    if os.name == "nt":
        candidates = [["py", "-3.%d" % minor] for minor in MINORS] + candidates
    with open(os.devnull, "w") as sink:
        for candidate in candidates:
            try:
                if subprocess.call(candidate + ["-c", question], stdout=sink, stderr=sink) == 0:
                    return candidate
            except OSError:
                continue
    return None


def main():
    """Go on with a Python that is neither too old nor too new, or say what to install."""
    here = "%d.%d.%d" % sys.version_info[:3]
    if OLDEST <= sys.version_info[:2] <= NEWEST:
        sys.path.insert(0, os.path.join(ROOT, "scripts"))
        from front import run

        return run(sys.argv[1:])
    wrong = "too old" if sys.version_info[:2] < OLDEST else "too new"
    other = other_python()
    if other:
        print("Python %s is %s for Scanloom; going on with %s." % (here, wrong, " ".join(other)), file=sys.stderr)
        return subprocess.call(other + [os.path.abspath(__file__)] + sys.argv[1:])
    print(
        "Python %s is %s: Scanloom runs on Python 3.%d to 3.%d, and none of those is on PATH.\n"
        "Install one and run this again. Debian 12, Ubuntu 24.04 or newer: sudo apt install python3 python3-venv\n"
        "Windows and macOS: the installer of the Python project, or your package manager."
        % (here, wrong, OLDEST[1], NEWEST[1]),
        file=sys.stderr,
    )
    return 2


if __name__ == "__main__":
    try:
        sys.exit(main())
    except KeyboardInterrupt:
        print("\nStopped. Whatever is half made is made anew next time.", file=sys.stderr)
        sys.exit(130)
