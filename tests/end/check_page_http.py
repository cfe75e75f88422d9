#!/usr/bin/env python3
"""The live page of watch as a browser's requests find it: what it serves, to whom, and what it does
for them. The state is held against the JSON Schema that the program comes with, advice against
`aim`, the QR code is read by zbarimg."""
import json
import os
import pty
import re
import select
import shutil
import subprocess
import sys
import tempfile
import time

import jsonschema

sys.path.insert(0, os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', 'page'))
from live_page import ALIDADE, BUILD, PATIENCE, PLACE, Night, Watch, environment  # noqa: E402

cases, failures = 0, []


def check(what, good):
    global cases
    cases += 1
    if not good:
        failures.append(what)


def check_headers(watch):
    status, headers, body = watch.ask()
    check('the page is not served', status == 200 and b'<main>' in body)
    policy = headers.get('content-security-policy', '')
    check('the policy lets something in: ' + policy,
          policy.startswith("default-src 'none'") and 'http' not in policy and '*' not in policy and
          'unsafe' not in policy)
    for name, value in (('x-content-type-options', 'nosniff'), ('referrer-policy', 'no-referrer'),
                        ('cache-control', 'no-store'), ('x-frame-options', 'DENY'),
                        ('cross-origin-resource-policy', 'same-origin')):
        check(name + ' is ' + str(headers.get(name)), headers.get(name) == value)
    for name, kind in (('live.js', 'text/javascript'), ('live.css', 'text/css')):
        status, headers, body = watch.ask(path=name)
        check(name, status == 200 and headers['content-type'].startswith(kind) and len(body) > 2000)
        links = re.findall(rb'(?:https?:)?//[a-z]+[.:][^\s\'"]*', body)
        check('%s asks elsewhere: %s' % (name, links), set(links) <= {b'http://www.w3.org/2000/svg'})


def check_strangers(watch):
    for host in ('evil.example', 'evil.example:%d' % watch.port, '127.0.0.1', '127.0.0.1:1', ''):
        check('Host %r is answered' % host, watch.ask(host=host)[0] in (400, 403))
    check('localhost is refused', watch.ask(host='localhost:%d' % watch.port)[0] == 200)
    for origin in ('http://evil.example', 'null', 'https://127.0.0.1:%d' % watch.port,
                   'http://127.0.0.1:%d.evil.example' % watch.port):
        check('Origin %s may read' % origin,
              watch.ask(path='state', headers={'Origin': origin})[0] == 403)
        check('Origin %s may write' % origin,
              watch.ask('POST', 'want', b'batch=5', {'Origin': origin})[0] == 403)
    check('a post without an origin', watch.ask('POST', 'want', b'batch=5', {'Origin': None})[0] == 403)
    check('a page of another site', watch.ask(headers={'Sec-Fetch-Site': 'cross-site'})[0] == 403)
    for method in ('PUT', 'DELETE', 'OPTIONS', 'TRACE', 'PATCH'):
        check(method + ' is answered', watch.ask(method)[0] in (404, 405, 501))
    for path in ('/../../../etc/passwd', '/%2e%2e/%2e%2e/etc/passwd', '/frames', '//etc/passwd',
                 '/alidade-night.jsonl', '/live.html', '/.', '/state/', '/want', '/look'):
        check(path + ' is served', watch.ask(path=path)[0] == 404)


def check_bounds(watch):
    def status(name, body, **headers):
        return watch.ask('POST', name, body, {k.replace('_', '-'): v for k, v in headers.items()})[0]
    form = 'application/x-www-form-urlencoded'
    check('a large form', status('want', b'target=' + b'a' * 9000, Content_Type=form) == 413)
    check('a long target', status('want', b'target=' + b'a' * 300, Content_Type=form) == 400)
    check('a picture of 65 MB', status('look', b'', Content_Type='multipart/form-data; boundary=x',
                                       Content_Length=str(65 << 20)) == 413)
    check('chunks', status('look', b'0\r\n\r\n', Content_Type='multipart/form-data; boundary=x',
                           Transfer_Encoding='chunked') == 411)
    check('a length that is none', status('want', b'', Content_Type=form,
                                          Content_Length='-1') in (400, 411))
    check('no form', status('want', b'{}', Content_Type='application/json') == 415)
    check('no picture', status('look', b'a=b', Content_Type=form) == 400)


def aim(frame, *options):
    done = subprocess.run([ALIDADE, 'aim', frame, '--target', 'Orion Nebula', '--json', *PLACE, *options],
                          env=environment(), capture_output=True, text=True)
    return json.loads(done.stdout)


def conforms(answer, table):
    with open(os.path.join(BUILD, 'alidade.schema.json')) as file:
        schema = json.load(file)
    faults = jsonschema.Draft202012Validator(
        {'$ref': '#/$defs/' + table, '$defs': schema['$defs']}).iter_errors(answer)
    for fault in faults:
        check('%s is not as its schema says: %s: %s' % (table, list(fault.path), fault.message), False)


def check_state(watch, frame):
    state = watch.state()
    conforms(state, 'page')
    # The standing looks ahead to the end of the batch: so does aim, if it is told.
    left = state['act']['frames']
    guide = aim(frame, '--batch', '12', '--cadence', '2', '--settle', str(30 + 2 * left))['guide']
    star = state['drawing']['star']
    for key in ('x', 'y', 'to_x', 'to_y'):
        check('%s of the star to move: %s, by aim %s' % (key, star[key], guide[key]),
              abs(star[key] - guide[key]) < 0.5)
    check('an act of more than six words: ' + state['act']['text'],
          len(state['act']['text'].split()) <= 6)


def check_events(watch, night, frame):
    events = watch.events()
    check('no stream of events', 'text/event-stream' in events.head)
    name, number, data = events.next()
    check('the first event is ' + str(name), name == 'state' and data['state']['frames'] == 2)
    night.give(frame)
    state, took, number = events.await_state(lambda s: s['frames'] == 3)
    check('a frame took %.1f s' % took, took < 2 * PATIENCE)
    while name != 'picture':
        name = events.next()[0]
    check('no picture', watch.ask(path='picture.jpg')[2].startswith(b'\xff\xd8'))
    events.close()
    again = watch.events(last=number)
    begun = time.monotonic()
    name = again.next(20)[0]
    while name in ('picture', 'glimpse'):
        name = again.next(20)[0]
    check('a page that comes back is told %s' % name,
          name == 'beat' and time.monotonic() - begun < 8 * PATIENCE)
    again.close()
    again = watch.events(last='1-1')
    check('a page of another run is not told', again.next()[0] == 'state')
    again.close()


def check_wishes(watch, night, frame):
    status, answer = watch.post('want', {'target': 'nowhere at all'})
    check('a target that is none', status == 422 and 'nowhere' in answer['error'])
    check('the Sun', 'burns eyes' in watch.post('want', {'target': 'Sun'})[1].get('error', ''))
    check('half a frame', watch.post('want', {'batch': '1.5'})[0] == 422)
    status, answer = watch.post('want', {'target': '%24%28touch%20gone%29%3B%60touch%20gone%60'})
    check('a command for a target', status == 422 and
          not os.path.exists(os.path.join(night.folder, 'gone')))
    check('hours', watch.post('want', {'hours': '0.5'})[0] == 200 and
          watch.state()['light']['wanted_s'] == 1800)
    check('another target', watch.post('want', {'target': 'M+43', 'batch': '7'})[0] == 200)
    state = watch.state()
    check('not from the next frame on', state.get('target_next', '').startswith('M 43') and
          state['target'].startswith('M 42') and state['batch'] == 7)
    events = watch.events()
    night.give(frame)
    state = events.await_state(lambda s: s['frames'] == 4)[0]
    check('the target is still ' + state['target'], state['target'].startswith('M 43') and
          'target_next' not in state and state['drawing']['target']['name'].startswith('M 43'))
    check('frames of a batch of 7: %s' % state['act'], state['act']['frames'] <= 7)
    events.close()
    watch.post('want', {'target': 'Orion+Nebula'})


def check_pictures(watch, night, frame):
    before = sorted(os.listdir(night.folder) + os.listdir(night.frames))
    status, answer = watch.send(frame)
    conforms(answer, 'page_picture')
    advice = aim(frame, '--centre')
    check('the picture is not solved: %s' % answer, status == 200 and answer['solved'])
    if answer.get('solved'):
        check('the move is %s' % answer['move'], '%.2f°' % abs(advice['move']['pan_right_deg'])
              in answer['move'])
        check('where it points', abs(answer['ra_deg'] - advice_centre(frame)[0]) < 1e-3)
    status, answer = watch.send_bytes(b'no picture at all')
    check('what is no picture: %s' % answer, status == 200 and not answer['solved'] and answer['text'])
    check('something was kept', before == sorted(os.listdir(night.folder) + os.listdir(night.frames)))
    status, answer = watch.post('others', {})
    conforms(answer, 'page_others')
    check('what else is up: %s' % answer, status == 200 and len(answer['others']) > 2 and
          all(other['why'] for other in answer['others']))


def advice_centre(frame):
    done = subprocess.run([ALIDADE, 'solve', frame, '--json'], env=environment(),
                          capture_output=True, text=True)
    centre = json.loads(done.stdout)['centre']
    return centre['ra_deg'], centre['dec_deg']


def check_key(night):
    watch = Watch(night, address='0.0.0.0:0')
    key = watch.path.strip('/')
    check('no key in ' + watch.url, re.fullmatch(r'([a-z2-9]{4}-){2}[a-z2-9]{4}', key))
    wrong = key[:-1] + ('a' if key[-1] != 'a' else 'b')
    for path, expected in (('/', 404), ('/state', 404), ('/' + wrong + '/', 404), ('/' + key + '/', 200),
                           ('/' + key + 'a/', 404), ('/' + key[:-1] + '/', 404), ('//', 404),
                           ('/' + key + '/state', 200), ('/' + wrong + '/state', 404)):
        status = watch.ask(path=path)[0]
        check('%s gives %d, not %d' % (path, status, expected), status == expected)
    status, headers, _ = watch.ask(path='/' + key)
    check('the key alone', status == 302 and headers['location'] == key + '/')
    check('it ends with %d: %s' % (watch.close(), watch.complaints()), watch.process.returncode == 0)


def terminal_text(night):
    """What watch shows on a terminal, as long as it takes to begin."""
    pid, terminal = pty.fork()
    if pid == 0:
        os.environ.update(environment(), TERM='xterm', COLUMNS='100')
        os.execv(ALIDADE, [ALIDADE, 'watch', night.frames, '--target', 'M 42', '--red', '--page',
                           '0.0.0.0:0', *PLACE])
    text = b''
    end = time.monotonic() + 20 * PATIENCE
    while time.monotonic() < end and b'Following' not in text:
        if select.select([terminal], [], [], 0.5)[0]:
            text += os.read(terminal, 65536)
    os.write(terminal, b'\x03')
    try:
        while os.read(terminal, 65536):
            pass
    except OSError:
        pass
    os.waitpid(pid, 0)
    os.close(terminal)
    return text.decode()


def check_code(night):
    if not shutil.which('zbarimg'):
        return False
    from PIL import Image
    text = terminal_text(night)
    url = re.search(r'http://\S+', text).group(0)
    rows = [re.sub(r'\x1b\[[0-9;]*m', '', line)[2:] for line in text.replace('\r', '').split('\n')
            if re.search('[▀▄█]{3}', line)]
    wide = max(len(row) for row in rows)
    image = Image.new('L', (wide, 2 * len(rows)), 0)
    for y, row in enumerate(rows):
        for x, c in enumerate(row):
            image.putpixel((x, 2 * y), 255 * (c in '▀█'))
            image.putpixel((x, 2 * y + 1), 255 * (c in '▄█'))
    with tempfile.NamedTemporaryFile(suffix='.png') as file:
        image.resize((8 * wide, 16 * len(rows)), Image.NEAREST).save(file.name)
        done = subprocess.run(['zbarimg', '-q', '--raw', file.name], capture_output=True, text=True)
    check('the code says %r, the link is %s' % (done.stdout, url), done.stdout.strip() == url)
    check('the code is %d columns wide' % wide, wide <= 78)
    return True


def main():
    night = Night()
    frames = night.render(1, 4)
    watch = Watch(night)
    read = False
    try:
        events = watch.events()
        for number, frame in enumerate(frames[:2]):
            night.give(frame)
            events.await_state(lambda s, n=number: s['frames'] == n + 1)
        events.close()
        check_headers(watch)
        check_strangers(watch)
        check_bounds(watch)
        check_state(watch, frames[1])
        check_events(watch, night, frames[2])
        check_wishes(watch, night, frames[3])
        check_pictures(watch, night, frames[0])
        check('it ends with %d: %s' % (watch.close(), watch.complaints()),
              watch.process.returncode == 0 and not watch.complaints())
        taken = Watch(night)
        again = subprocess.run([ALIDADE, 'watch', night.frames, '--target', 'M 42', '--page',
                                '127.0.0.1:%d' % taken.port], env=environment(),
                               capture_output=True, text=True)
        check('a port that is taken: ' + again.stderr,
              again.returncode == 2 and '--page' in again.stderr)
        taken.close()
        check_key(night)
        read = check_code(night)
    finally:
        if watch.process.poll() is None:
            watch.process.kill()
        night.close()
    for what in failures:
        print(what)
    print('%d answers of the page are as they must be%s' % (
        cases - len(failures), '' if read else '; the QR code was not read: zbarimg is missing'))
    return 1 if failures else 0


sys.exit(main())
