"""A child process that takes its time."""

import time

from fieldlog.child import answer

if __name__ == "__main__":
    answer(lambda _job, _tell: time.sleep(60))
