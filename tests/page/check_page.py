#!/usr/bin/env python3
"""A night plays through the live page in a real browser: every alert is seen, heard and felt, the move is
drawn where `aim` has it, a lost connection is told and made good, pictures are answered, and nothing
is asked of any other address. Leaves pictures of the page in BUILD/page-*.png."""
import json
import os
import re
import signal
import subprocess
import sys
import time

sys.path.insert(0, os.path.dirname(os.path.abspath(__file__)))
import devtools  # noqa: E402
from devtools import Browser, wait_for  # noqa: E402
from live_page import ALIDADE, BUILD, PATIENCE, PLACE, Night, Watch, environment  # noqa: E402

SIZES = {'tall': (390, 844), 'wide': (844, 390), 'desk': (1280, 800)}
BATCH = 30
HOSTILE = "<img src=x onerror=document.title='gone'>.jpg"
cases, failures = 0, []

# Notes what was there for a moment only.
RECORDER = '''
window.seen = []; window.felt = 0; window.tones = 0; window.said = [];
Object.defineProperty(Navigator.prototype, 'vibrate', {value: () => { felt++; return true; }});
const oscillator = AudioContext.prototype.createOscillator;
AudioContext.prototype.createOscillator = function () { tones++; return oscillator.call(this); };
speechSynthesis.speak = words => said.push(words.text);
document.addEventListener('DOMContentLoaded', () => new MutationObserver(changes => {
  for (const change of changes) for (const node of change.addedNodes) seen.push(node.dataset.alert);
}).observe(document.getElementById('alerts'), {childList: true}));
'''


def check(what, good):
    global cases
    cases += 1
    if not good:
        failures.append(what)


def state(browser):
    return browser.evaluate('state')


def play(browser, night, frames, name=None):
    """Gives frames one after the other; the seconds until the page shows each."""
    took = []
    for frame in frames:
        before = browser.evaluate('state ? state.frames : 0')
        night.give(frame, name)
        took.append(wait_for(lambda n=before: browser.evaluate('state && state.frames') == n + 1,
                             20 * PATIENCE, 'frame ' + frame)[1])
    return took


def check_layout(browser, name):
    """What a gloved hand in the dark needs is there without scrolling."""
    for what, (width, height) in SIZES.items():
        browser.size(width, height, 2 if width < 1000 else 1, width < 1000)
        time.sleep(0.3)
        browser.screenshot(os.path.join(BUILD, 'page-%s-%s.png' % (name, what)))
        found = browser.evaluate('''(() => {
            scrollTo(0, 0);
            const box = id => byId(id).getBoundingClientRect();
            return {wide: document.documentElement.scrollWidth, act: box('act').bottom,
              count: box('count').bottom, frame: box('frame').top,
              letters: parseFloat(getComputedStyle(byId('act')).fontSize),
              buttons: [...document.querySelectorAll('button')].filter(b => b.offsetParent)
                .map(b => b.getBoundingClientRect().height)};
        })()''')
        where = ' at %d x %d' % (width, height)
        check('it is %s px wide%s' % (found['wide'], where), found['wide'] <= width)
        check('the act is below the screen' + where, max(found['act'], found['count']) < height)
        check('the frame is below the screen' + where, found['frame'] < 0.75 * height)
        check('letters of %s px%s' % (found['letters'], where), found['letters'] >= 30)
        check('a button of %s px%s' % (min(found['buttons']), where), min(found['buttons']) >= 48)
    browser.size(*SIZES['tall'], 2, True)


def check_red(path):
    """Dark-adapted eyes are to see red alone."""
    from PIL import Image
    image = Image.open(path).convert('RGB')
    worst = max(max(g, b) - (0.25 * r + 8) for _, (r, g, b) in image.getcolors(1 << 24))
    check('there is other light than red: %g' % worst, worst <= 0)


def guide(frame, settle):
    done = subprocess.run(
        [ALIDADE, 'aim', frame, '--target', 'Orion Nebula', '--batch', str(BATCH), '--cadence', '2',
         '--settle', str(settle), '--json', *PLACE], env=environment(), capture_output=True, text=True)
    return json.loads(done.stdout)


def check_move(browser, frame):
    """The arrow on the screen against what aim says of the same frame, 2 px of the screen."""
    now = state(browser)
    told = guide(frame, 30 + 2 * now['act'].get('frames', 0))
    for width, height in SIZES.values():
        browser.size(width, height)
        time.sleep(0.3)
        drawn = browser.evaluate('''(() => {
            const middle = e => { const b = e.getBoundingClientRect();
              return [b.x + b.width / 2, b.y + b.height / 2]; };
            const rim = document.querySelector('#sky .rim').getBoundingClientRect();
            const tip = document.querySelector('#sky .head').points[0];
            const at = tip.matrixTransform(document.querySelector('#sky .head').getScreenCTM());
            return {rim: [rim.x, rim.y, rim.width, rim.height],
              from: middle(document.querySelector('#sky .star')), to: [at.x, at.y]};
        })()''')
        x, y, wide, high = drawn['rim']
        for key, px, py in (('from', 'x', 'y'), ('to', 'to_x', 'to_y')):
            expected = (x + (told['guide'][px] + 0.5) / 900 * wide, y + (told['guide'][py] + 0.5) / 600 * high)
            off = max(abs(drawn[key][0] - expected[0]), abs(drawn[key][1] - expected[1]))
            check('the arrow is %.1f px off %s at %d x %d' % (off, key, width, height), off <= 2)
    browser.size(*SIZES['tall'], 2, True)
    return told


def check_alerts(browser, expected):
    seen = browser.evaluate('seen')
    for alert in expected:
        check('%s was not seen, but %s' % (alert, seen), alert in seen)


def check_put_away(browser):
    before = browser.evaluate('document.querySelectorAll("#alerts li").length')
    browser.click('#alerts li button')
    after = browser.evaluate('document.querySelectorAll("#alerts li").length')
    check('an alert cannot be put away: %d, then %d' % (before, after), after == before - 1)


def play_night(browser, night):
    """The demo's events, in fewer frames."""
    took = play(browser, night, night.render(1, 3))
    browser.click('#act')  # browsers make no sound before the page was touched
    check_layout(browser, 'begin')
    check_red(os.path.join(BUILD, 'page-begin-tall.png'))
    browser.click('[data-opens=settings]')
    time.sleep(0.3)
    browser.screenshot(os.path.join(BUILD, 'page-settings-tall.png'))
    check_red(os.path.join(BUILD, 'page-settings-tall.png'))
    check('the screen ' + browser.text('#awake'), browser.text('#awake') == 'The screen is kept on.')
    browser.click('[data-opens=settings]')
    took += play(browser, night, night.render(4, 8))
    took += play(browser, night, night.render(9, 12, '--cloud', '1.5'))
    check('the act is %s' % browser.text('#act'), 'cloud' in browser.text('#act'))
    browser.screenshot(os.path.join(BUILD, 'page-cloud-tall.png'))
    took += play(browser, night, night.render(13, 18))
    last = night.render(19, 30)
    took += play(browser, night, last)
    check('no tone, or no vibration', browser.evaluate('tones >= 3 && felt >= 1'))
    check('the act is not due: ' + browser.text('#count'), browser.text('#count') == 'now')
    check('nothing was to be said aloud', browser.evaluate('said.length') == 0)
    told = check_move(browser, last[-1])
    check_layout(browser, 'recentre')
    check_put_away(browser)
    lead = told['lead']
    night.azimuth += 0.9 * lead['pan_right_deg']
    night.altitude += lead['tilt_up_deg']
    browser.evaluate("byId('speak').click()")
    moved = night.render(31, 36, pause=30)
    took += play(browser, night, moved[:1])
    check('after a move the act is ' + browser.text('#act'), 'one frame' in browser.text('#act'))
    text = browser.text('#moved')
    found = re.search(r'moved ([0-9.]+)° right of ([0-9.]+)', text or '')
    check('the move is told as %r, of %s' % (text, lead), found and
          abs(float(found.group(1)) - 0.9 * lead['pan_right_deg']) < 0.03 and
          abs(float(found.group(2)) - lead['pan_right_deg']) < 0.03 and 'to go' in text)
    browser.screenshot(os.path.join(BUILD, 'page-moved-tall.png'))
    took += play(browser, night, moved[1:])
    check('nothing was said aloud', browser.evaluate('said.some(text => text.startsWith("on target"))'))
    night.azimuth += 0.08
    took += play(browser, night, night.render(37, 40, pause=30))
    took += play(browser, night, night.render(41, 43, '--cap', pause=30))
    took += play(browser, night, night.render(44, 50, pause=30))
    took += play(browser, night, night.render(51, 56, '--fwhm', '4.4', pause=30))
    check_alerts(browser, ['near-edge', 'cloud', 'clear', 'recentre', 'centred', 'knocked', 'no-sky',
                           'light', 'focus'])
    check('a frame took %.2f s to the page' % max(took), max(took) < 2 * PATIENCE)
    wait_for(lambda: 'silence' in browser.evaluate('seen'), 20 * PATIENCE, 'the alert of silence')
    check('the act is %s' % browser.text('#act'), 'no frames' in browser.text('#act'))
    check_layout(browser, 'night')
    ribbon = state(browser)['ribbon']
    check('the ribbon is ' + ribbon, len(ribbon) == 56 and ribbon[:8] == 'k' * 8 and 'a' in ribbon)
    return max(took)


def check_lost(browser, night, watch):
    """The watch stops, frames come, it starts again."""
    port = watch.port
    watch.process.send_signal(signal.SIGSTOP)
    _, after = wait_for(lambda: 'no connection' in browser.text('#link'), 30, 'that it is lost')
    check('a lost connection is told after %.0f s' % after, after < 16)
    check('how old it is: ' + browser.text('#link'), re.search(r'is \d+ (s|min) old', browser.text('#link')))
    browser.screenshot(os.path.join(BUILD, 'page-lost-tall.png'))
    watch.process.send_signal(signal.SIGCONT)
    wait_for(lambda: 'no connection' not in browser.text('#link'), 30, 'the connection')
    watch.close()
    for frame in night.render(57, 59, pause=30):
        night.give(frame)
    again = Watch(night, '--quiet', '600', address='127.0.0.1:%d' % port, batch=BATCH)
    wait_for(lambda: state(browser)['frames'] == 59, 30 * PATIENCE, 'what came meanwhile')
    return again


def check_asking(browser, night):
    frame = night.render(60, 61, pause=30)
    browser.click('[data-opens=send]')
    browser.choose_file('#file', frame[0])
    wait_for(lambda: 'wholly in the frame' in browser.text('#sendtext') or
             'looking' not in browser.text('#sendtext'), 20 * PATIENCE, 'the answer to a picture')
    check('a picture is answered: ' + browser.text('#sendtext'),
          'points to 05h3' in browser.text('#sendtext') and '°' in browser.text('#sendtext'))
    check('the picture is not drawn', browser.evaluate(
        'document.querySelectorAll("#sentsky .outline").length') == 1)
    browser.screenshot(os.path.join(BUILD, 'page-sent-tall.png'), whole=True)
    browser.click('[data-opens=others]')
    wait_for(lambda: browser.evaluate('document.querySelectorAll("#otherslist li").length') > 0,
             20 * PATIENCE, 'what else is up')
    browser.screenshot(os.path.join(BUILD, 'page-others-tall.png'), whole=True)
    other = browser.evaluate('document.querySelector("#otherslist button").firstChild.textContent')
    browser.click('#otherslist button')
    browser.click('#want button')
    wait_for(lambda: 'next ' + other in browser.text('#link'), 10 * PATIENCE, 'the other target')
    play(browser, night, frame[1:], HOSTILE)
    check('the target is not ' + other, state(browser)['target'] == other)
    check('a file name is no text', HOSTILE in browser.text('#why') and
          browser.evaluate('document.title') == 'Alidade' and
          browser.evaluate('document.querySelectorAll("#why *").length') == 0)
    check('a long file name widens the page to %d px' % browser.evaluate('innerWidth'),
          browser.evaluate('innerWidth') == SIZES['tall'][0])


def check_emerging(browser):
    """The stack is there, with its outline to switch on, and says what it is."""
    wait_for(lambda: browser.evaluate('byId("glimpse").naturalWidth') > 0, 20 * PATIENCE, 'the stack')
    check('it does not say that it is a glimpse: ' + browser.text('#glimpseframes'),
          re.match(r'\d+ frames? in the stack, .*a glimpse', browser.text('#glimpseframes')))
    check('the signal is told as ' + browser.text('#glimpsetext'),
          re.match(r'S/N [0-9.]+ ± [0-9.]+ per pixel', browser.text('#glimpsetext')))
    check('an outline nobody asked for', browser.evaluate('document.querySelectorAll("#rim .outline").length') == 0)
    browser.evaluate("byId('outlined').click()")
    found = browser.evaluate('''(() => {
        const rim = document.querySelector('#rim .outline'), image = byId('glimpse').getBoundingClientRect();
        if (!rim) return null;
        const box = rim.getBoundingClientRect();
        return [box.x - image.x, box.y - image.y, image.right - box.right, image.bottom - box.bottom,
                byId('glimpse').naturalWidth - state.glimpse.width];
    })()''')
    check('the outline is not on the stack: %s' % found, found and min(found[:4]) > 0 and found[4] == 0)
    browser.screenshot(os.path.join(BUILD, 'page-emerging-tall.png'), whole=True)
    check_red(os.path.join(BUILD, 'page-emerging-tall.png'))


def check_wanting(browser, night, frame):
    """Batch and hours are changed, from the next frame on."""
    if browser.evaluate("byId('change').hidden"):
        browser.click('[data-opens=change]')
    browser.evaluate("byId('wantanswer').textContent = ''")
    browser.evaluate("byId('want').batch.value = '45'; byId('want').hours.value = '2.5'")
    browser.click('#want button')
    wait_for(lambda: browser.text('#wantanswer') != '', 10 * PATIENCE, 'the answer to a wish')
    play(browser, night, frame)
    check('the batch is %s' % state(browser).get('batch'), state(browser).get('batch') == 45)
    check('light is told as ' + browser.text('#light'),
          state(browser)['light'].get('wanted_s') == 9000 and ' of ' in browser.text('#light'))


def check_safe(browser, url):
    refused = browser.evaluate('''new Promise(done => {
        const script = document.createElement('script');
        script.textContent = 'window.gone = 1';
        document.body.append(script);
        fetch('http://127.0.0.2:9/').then(() => done('fetched'), () => done(String(window.gone)));
    })''')
    check('the policy lets through: ' + refused, refused == 'undefined')
    out = [asked for asked in browser.requests if not asked.startswith((url, 'data:', 'about:')) and
           '127.0.0.2' not in asked]
    check('asked elsewhere: %s' % out, not out)


def main():
    missing = devtools.missing()
    if missing:
        print(missing)
        return 77
    night = Night()
    watch = browser = None
    try:
        watch = Watch(night, '--quiet', '6', '--stack', 'emerging.png', batch=BATCH)
        browser = Browser()
        browser.before_scripts(RECORDER)
        browser.size(*SIZES['tall'], 2, True)
        browser.open(watch.url)
        slowest = play_night(browser, night)
        check('the page complains: %s' % browser.complaints, not browser.complaints)
        check_emerging(browser)
        watch = check_lost(browser, night, watch)
        check_asking(browser, night)
        check_wanting(browser, night, night.render(62, 62, pause=30))
        check_safe(browser, watch.url)
        browser.evaluate("byId('bright').click()")
        time.sleep(0.5)
        browser.evaluate('scrollTo(0, 0)')
        browser.screenshot(os.path.join(BUILD, 'page-light-tall.png'))
        check('it ends with %d: %s' % (watch.close(), watch.complaints()), watch.process.returncode == 0)
    finally:
        if browser:
            browser.close()
        if watch and watch.process.poll() is None:
            watch.process.kill()
        night.close()
    for what in failures:
        print(what)
    print('%d of %d things on the page are as they must be; the slowest frame took %.2f s to it' % (
        cases - len(failures), cases, slowest))
    return 1 if failures else 0


sys.exit(main())
