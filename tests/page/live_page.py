"""What tests of the live page share: rendered frames of a night, a watch that serves the page, and
requests to it as raw as need be."""
import http.client
import json
import os
import re
import shutil
import signal
import socket
import subprocess
import tempfile
import time

ROOT = os.path.abspath(os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', '..'))
BUILD = os.path.join(ROOT, os.environ.get('BUILD', 'build'))
ALIDADE = os.path.join(BUILD, 'alidade')
PLACE = ['--place', '50,10', '--zone', '+01:00']
PATIENCE = float(os.environ.get('PATIENCE', '120')) / 120  # above 1 under sanitizers


def environment():
    return dict(os.environ, ALIDADE_INDEX=os.path.join(BUILD, 'hipparcos.alidx'),
                ALIDADE_CATALOGS=os.path.join(ROOT, 'catalogs'), XDG_CONFIG_HOME='/dev/null')


class Night:
    """A folder with rendered frames of the demo's camera, to be moved where they are watched."""

    def __init__(self):
        self.folder = tempfile.mkdtemp()
        self.frames = os.path.join(self.folder, 'frames')
        os.mkdir(self.frames)
        self.azimuth, self.altitude = 195.2, 33.5

    def render(self, first, last, *options, pause=0):
        """Frames first to last, one every 2 s from 19:30 on; their paths."""
        begin = 19 * 3600 + 30 * 60 + 2 * first + pause
        clock = '%02d:%02d:%02d' % (begin // 3600, begin // 60 % 60, begin % 60)
        count = last - first + 1
        pattern = os.path.join(self.folder, 'part-%d.jpg')
        subprocess.run(
            [os.path.join(BUILD, 'demo/render'), '--stars', os.path.join(ROOT, 'catalogs/stars.tsv'),
             '--focal', '200', '--aperture', '2.8', '--pixel', '16', '--size', '900x600',
             '--exposure', '1', '--interval', '2', '--zone', '60', '--start', '2026-02-24T' + clock,
             '--azimuth', str(self.azimuth), '--altitude', str(self.altitude),
             '--frames', str(count), '--seed', str(first), *options, '--out', pattern],
            check=True, stdout=subprocess.DEVNULL)
        out = []
        for i in range(count):
            path = os.path.join(self.folder, 'night-%03d.jpg' % (first + i))
            os.rename(pattern % (i + 1) if count > 1 else pattern, path)
            out.append(path)
        return out

    def give(self, path, name=None):
        """Puts a frame where it is watched, whole at once."""
        shutil.copy(path, os.path.join(self.folder, 'tmp.part'))
        os.rename(os.path.join(self.folder, 'tmp.part'),
                  os.path.join(self.frames, name or os.path.basename(path)))

    def close(self):
        shutil.rmtree(self.folder, ignore_errors=True)


class Watch:
    """alidade watch with a page."""

    def __init__(self, night, *options, address='127.0.0.1:0', batch=12):
        self.errors = tempfile.TemporaryFile(mode='w+')
        self.said = tempfile.NamedTemporaryFile(mode='r')
        with open(self.said.name, 'w') as out:
            self.process = subprocess.Popen(
                [ALIDADE, 'watch', night.frames, '--target', 'Orion Nebula', '--batch', str(batch),
                 '--cadence', '2', *PLACE, '--page', address, *options],
                env=environment(), stdout=out, stderr=self.errors, cwd=night.folder)
        begun = time.monotonic()
        found = None
        while not found:
            found = re.search(r'http://(\S+?):(\d+)(/[^\s,]*)', self.output() + self.complaints())
            if self.process.poll() is not None or time.monotonic() - begun > 30 * PATIENCE:
                raise RuntimeError('watch does not begin: ' + self.complaints())
            time.sleep(0.02)
        self.url = found.group(0)
        self.host, self.port, self.path = found.group(1), int(found.group(2)), found.group(3)

    def output(self):
        self.said.seek(0)
        return self.said.read()

    def complaints(self):
        self.errors.seek(0)
        return self.errors.read()

    def close(self):
        """Ends it as its user would; the exit code."""
        self.process.send_signal(signal.SIGINT)
        try:
            return self.process.wait(60 * PATIENCE)
        finally:
            if self.process.poll() is None:
                self.process.kill()

    def ask(self, method='GET', path='', body=None, headers=None, host=None):
        """Status, headers (in small letters), body. Posts come from the page's own origin."""
        own = '127.0.0.1:%d' % self.port
        given = {'Host': own if host is None else host}
        if method == 'POST':
            given['Origin'] = 'http://' + own
        given.update(headers or {})
        given = {key: value for key, value in given.items() if value is not None}
        line = http.client.HTTPConnection('127.0.0.1', self.port, timeout=60 * PATIENCE)
        line.putrequest(method, path if path.startswith('/') else self.path + path,
                        skip_host=True, skip_accept_encoding=True)
        for key, value in given.items():
            line.putheader(key, value)
        if body is not None and 'Content-Length' not in given and 'Transfer-Encoding' not in given:
            line.putheader('Content-Length', str(len(body)))
        line.endheaders(body)
        answer = line.getresponse()
        read = answer.read()
        line.close()
        return answer.status, {k.lower(): v for k, v in answer.getheaders()}, read

    def post(self, name, fields):
        body = '&'.join('%s=%s' % (k, v) for k, v in fields.items()).encode()
        status, _, read = self.ask('POST', name, body,
                                   {'Content-Type': 'application/x-www-form-urlencoded'})
        return status, json.loads(read)

    def send(self, path):
        with open(path, 'rb') as file:
            return self.send_bytes(file.read())

    def send_bytes(self, picture):
        mark = b'part-of-a-form'
        body = (b'--' + mark + b'\r\nContent-Disposition: form-data; name="picture"; '
                b'filename="../../a.jpg"\r\nContent-Type: image/jpeg\r\n\r\n' + picture +
                b'\r\n--' + mark + b'--\r\n')
        status, _, read = self.ask('POST', 'look', body, {
            'Content-Type': 'multipart/form-data; boundary=' + mark.decode()})
        return status, json.loads(read)

    def state(self):
        status, _, read = self.ask(path='state')
        return json.loads(read) if status == 200 else None

    def raw(self, text):
        """A connection on which so much was said."""
        line = socket.create_connection(('127.0.0.1', self.port), timeout=60)
        line.sendall(text.encode())
        return line

    def events(self, last=None):
        return Events(self, last)


class Events:
    """The stream of events."""

    def __init__(self, watch, last=None):
        self.line = watch.raw('GET %sevents HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n%s\r\n' % (
            watch.path, watch.port, 'Last-Event-ID: %s\r\n' % last if last else ''))
        self.bytes = b''
        self.head = self._until(b'\r\n\r\n').decode()

    def _until(self, mark, seconds=60):
        self.line.settimeout(seconds)
        while mark not in self.bytes:
            got = self.line.recv(65536)
            if not got:
                raise EOFError('the stream ended')
            self.bytes += got
        part, self.bytes = self.bytes.split(mark, 1)
        return part

    def next(self, seconds=60):
        """(name, id, data) of the next event; chunks of HTTP are joined."""
        text = b''
        while b'\n\n' not in text:
            size = int(self._until(b'\r\n', seconds), 16)
            while len(self.bytes) < size + 2:
                self.bytes += self.line.recv(65536)
            text += self.bytes[:size]
            self.bytes = self.bytes[size + 2:]
        name = number = data = None
        for line in text.decode().split('\n'):
            key, _, value = line.partition(': ')
            if key == 'event':
                name = value
            elif key == 'id':
                number = value
            elif key == 'data':
                data = json.loads(value)
        return name, number, data

    def await_state(self, true, seconds=30):
        """The state of the first event of which true holds, and how long it took."""
        begun = time.monotonic()
        while time.monotonic() - begun < seconds:
            name, number, data = self.next(seconds)
            if name == 'state' and true(data['state']):
                return data['state'], time.monotonic() - begun, number
        raise TimeoutError('no such state within %g s' % seconds)

    def close(self):
        self.line.close()
