#!/usr/bin/env python3
"""Pages that are many, slow, half-open or a flood do not delay what watch says of a frame by more
than 50 ms, and all are let go in the end. Broken requests end no watch."""
import os
import random
import socket
import statistics
import subprocess
import sys
import threading
import time

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', 'page'))
from live_page import PATIENCE, Night, Watch  # noqa: E402

FRAMES, MOST_LATER_MS = 9, 50
failures = []

FLOOD = """
import os, socket, sys, time
os.nice(19)
end = time.monotonic() + float(sys.argv[2])
count = 0
while time.monotonic() < end:
    try:
        line = socket.create_connection(('127.0.0.1', int(sys.argv[1])), timeout=5)
        line.sendall(b'GET /state HTTP/1.1\\r\\nHost: 127.0.0.1:%d\\r\\n\\r\\n' % int(sys.argv[1]) * 20)
        line.settimeout(5)
        line.recv(65536)
        line.close()
        count += 1
    except OSError:
        pass
print(count)
"""


def check(what, good):
    if not good:
        failures.append(what)


def answer_times(watch, frames, night):
    """Milliseconds from a frame's arrival to its line in the answer, one after the other."""
    times = []
    for frame in frames:
        lines = watch.output().count('\n')
        night.give(frame)
        begun = time.monotonic()
        while watch.output().count('\n') == lines and time.monotonic() - begun < 30 * PATIENCE:
            time.sleep(0.002)
        times.append(1000 * (time.monotonic() - begun))
        time.sleep(0.05)
    return times


def usual(times):
    """The lower quartile: what else the computer does at a time makes single frames late, and what
    holds up each frame shows here too."""
    return statistics.quantiles(times, n=4)[0]


def ask_broken(watch):
    """Requests that are none, the same ones every time."""
    dice = random.Random(7)
    whole = ('POST /want HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nOrigin: http://127.0.0.1:%d\r\nContent-Type: '
             'application/x-www-form-urlencoded\r\nContent-Length: 8\r\n\r\nbatch=12' % (
                 watch.port, watch.port)).encode()
    for _ in range(200):
        broken = bytearray(whole)
        for _ in range(dice.randrange(1, 6)):
            broken[dice.randrange(len(broken))] = dice.randrange(256)
        try:
            line = socket.create_connection(('127.0.0.1', watch.port), timeout=10)
            line.sendall(bytes(broken[:dice.randrange(1, len(broken) + 1)]))
            line.close()
        except OSError:
            pass


def slow_ones(watch):
    """Connections that ask and do not read, and some that do not finish asking."""
    lines = []
    for i in range(100):  # telephones, a third of which never read
        lines.append(watch.raw('GET /events HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n' % watch.port))
    for i in range(30):
        lines.append(watch.raw('GET /sta'))
    for i in range(20):
        line = socket.socket()
        line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
        line.connect(('127.0.0.1', watch.port))
        line.sendall(b'GET /live.js HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n' % watch.port * 50)
        lines.append(line)
    lines.append(watch.raw(
        'POST /look HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nOrigin: http://127.0.0.1:%d\r\nContent-Type: '
        'multipart/form-data; boundary=x\r\nContent-Length: 60000000\r\n\r\n--x\r\n' % (
            watch.port, watch.port)))
    return lines


def read_some(lines, stop):
    """Two thirds of the telephones read what they are told."""
    for line in lines[:100]:
        line.setblocking(False)
    while not stop.is_set():
        for line in lines[:67]:
            try:
                line.recv(65536)
            except OSError:
                pass
        stop.wait(0.1)


def is_cut(line):
    line.setblocking(True)
    line.settimeout(1)
    try:
        while True:
            if not line.recv(65536):
                return True
    except ConnectionError:
        return True
    except OSError:
        return False


def main():
    night = Night()
    frames = night.render(1, 2 * FRAMES + 1)
    watch = Watch(night, batch=100)
    stop = threading.Event()
    try:
        answer_times(watch, frames[:1], night)
        calm = answer_times(watch, frames[1:FRAMES + 1], night)
        ask_broken(watch)
        lines = slow_ones(watch)
        reader = threading.Thread(target=read_some, args=(lines, stop))
        reader.start()
        flood = subprocess.Popen([sys.executable, '-c', FLOOD, str(watch.port), str(5 * PATIENCE)],
                                 stdout=subprocess.PIPE, text=True)
        time.sleep(0.5)
        storm = answer_times(watch, frames[FRAMES + 1:], night)
        flooded = flood.communicate()[0].strip()
        later = usual(storm) - usual(calm)
        check('frames are answered %.0f ms later: %s, calm %s' % (
            later, [round(t) for t in storm], [round(t) for t in calm]), later <= MOST_LATER_MS * PATIENCE)
        check('the flood was none: ' + flooded, int(flooded) > 20)
        check('the watch has ended: ' + watch.complaints(), watch.process.poll() is None)
        stop.set()
        reader.join()
        begun = time.monotonic()
        half = lines[100:130]
        while half and time.monotonic() - begun < 40 * PATIENCE:
            half = [line for line in half if not is_cut(line)]
        check('%d half requests are waited for' % len(half), not half)
        check('the page does not answer any more', watch.ask(path='state')[0] == 200)
        for line in lines:
            line.close()
        check('it ends with %d: %s' % (watch.close(), watch.complaints()), watch.process.returncode == 0)
    finally:
        stop.set()
        if watch.process.poll() is None:
            watch.process.kill()
        night.close()
    for what in failures:
        print(what)
    print('151 connections and %s floods of 20 requests: frames are answered %.0f ms later (%.0f, calm '
          '%.0f)' % (flooded, later, usual(storm), usual(calm)))
    return 1 if failures else 0


sys.exit(main())
