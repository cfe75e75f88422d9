"""Drives a headless Chromium by its own protocol (Chrome DevTools Protocol, over websockets)."""
import base64
import json
import os
import shutil
import subprocess
import tempfile
import time

try:
    import websocket
except ImportError:
    websocket = None

CHROMIUM = shutil.which('chromium') or shutil.which('chromium-browser')


def missing():
    """What is not there, as a sentence; None."""
    if not CHROMIUM:
        return 'chromium is not installed'
    if not websocket:
        return 'python3-websocket is not installed'
    return None


class Browser:
    """One page of one browser, with a profile of its own."""

    def __init__(self):
        self.profile = tempfile.mkdtemp()
        self.process = subprocess.Popen(
            [CHROMIUM, '--headless=new', '--no-sandbox', '--disable-gpu', '--hide-scrollbars',
             '--remote-debugging-port=0', '--remote-allow-origins=*', '--no-first-run',
             '--disable-background-networking', '--disable-component-update', '--disable-sync',
             '--disable-default-apps', '--mute-audio', '--autoplay-policy=no-user-gesture-required',
             '--user-data-dir=' + self.profile, 'about:blank'],
            stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        port_file = os.path.join(self.profile, 'DevToolsActivePort')
        wait_for(lambda: os.path.exists(port_file) and open(port_file).read().count('\n') > 0, 30)
        port, path = open(port_file).read().split('\n')[:2]
        self.line = websocket.create_connection('ws://127.0.0.1:%s%s' % (port, path), timeout=30)
        self.number = 0
        self.session = None
        self.requests, self.complaints = [], []
        target = self.call('Target.createTarget', url='about:blank')['targetId']
        self.session = self.call('Target.attachToTarget', targetId=target, flatten=True)['sessionId']
        for domain in ('Page', 'Runtime', 'Network', 'Log', 'DOM'):
            self.call(domain + '.enable')

    def call(self, method, **params):
        self.number += 1
        message = {'id': self.number, 'method': method, 'params': params}
        if self.session:
            message['sessionId'] = self.session
        self.line.send(json.dumps(message))
        while True:
            answer = json.loads(self.line.recv())
            if answer.get('id') == self.number:
                if 'error' in answer:
                    raise RuntimeError('%s: %s' % (method, answer['error']['message']))
                return answer['result']
            self._note(answer)

    def _note(self, event):
        params = event.get('params', {})
        if event.get('method') == 'Network.requestWillBeSent':
            self.requests.append(params['request']['url'])
        elif event.get('method') == 'Runtime.exceptionThrown':
            details = params['exceptionDetails']
            self.complaints.append(details.get('exception', {}).get('description', details['text']))
        elif event.get('method') == 'Log.entryAdded' and params['entry']['level'] == 'error':
            self.complaints.append(params['entry']['text'] + ' ' + params['entry'].get('url', ''))

    def evaluate(self, script):
        answer = self.call('Runtime.evaluate', expression=script, returnByValue=True,
                           awaitPromise=True, userGesture=True)
        if 'exceptionDetails' in answer:
            raise RuntimeError(answer['exceptionDetails'].get('exception', {}).get(
                'description', answer['exceptionDetails']['text']))
        return answer['result'].get('value')

    def size(self, width, height, scale=1, mobile=False):
        self.call('Emulation.setDeviceMetricsOverride', width=width, height=height,
                  deviceScaleFactor=scale, mobile=mobile)

    def open(self, url):
        self.call('Page.navigate', url=url)
        wait_for(lambda: self.evaluate('document.readyState') == 'complete', 20)

    def before_scripts(self, script):
        self.call('Page.addScriptToEvaluateOnNewDocument', source=script)

    def text(self, selector):
        return self.evaluate('document.querySelector(%s)?.textContent' % json.dumps(selector))

    def click(self, selector):
        box = self.evaluate('''(() => { const e = document.querySelector(%s);
            e.scrollIntoView({block: 'center'}); const b = e.getBoundingClientRect();
            return [b.x + b.width / 2, b.y + b.height / 2]; })()''' % json.dumps(selector))
        for kind in ('mousePressed', 'mouseReleased'):
            self.call('Input.dispatchMouseEvent', type=kind, x=box[0], y=box[1], button='left',
                      clickCount=1)

    def choose_file(self, selector, path):
        root = self.call('DOM.getDocument')['root']['nodeId']
        node = self.call('DOM.querySelector', nodeId=root, selector=selector)['nodeId']
        self.call('DOM.setFileInputFiles', nodeId=node, files=[path])

    def screenshot(self, path, whole=False):
        shot = self.call('Page.captureScreenshot', format='png', captureBeyondViewport=whole)
        with open(path, 'wb') as out:
            out.write(base64.b64decode(shot['data']))

    def close(self):
        try:
            self.session = None
            self.call('Browser.close')
        except Exception:
            pass
        try:
            self.process.wait(10)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
        shutil.rmtree(self.profile, ignore_errors=True)


def wait_for(true, seconds, what='it'):
    """Waits until true() is, and returns what it was and how long that took."""
    begun = time.monotonic()
    while True:
        value = true()
        if value:
            return value, time.monotonic() - begun
        if time.monotonic() - begun > seconds:
            raise TimeoutError('%s did not come within %.1f s' % (what, seconds))
        time.sleep(0.02)
