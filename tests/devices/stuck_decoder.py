"""A decoder that starts, says nothing and stays, for the tests of those who wait for one."""

import threading

if __name__ == "__main__":
    threading.Event().wait()
