#!/usr/bin/env python3
"""Every JSON that the programs print, read strictly (RFC 8259): whole lines, no key twice in an
object, no NaN; and no figure in it that was not measured."""
import os
import subprocess
import sys
import tempfile

os.chdir(os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', '..'))
sys.path.insert(0, os.path.abspath('tests'))
from strict_json import strict  # noqa: E402

BUILD = os.path.abspath(os.environ.get('BUILD', 'build'))
INDEX = os.path.join(BUILD, 'hipparcos.alidx')
ENVIRONMENT = dict(os.environ, ALIDADE_CATALOGS=os.path.abspath('catalogs'), ALIDADE_INDEX=INDEX)
failures = []
cases = 0


def check(what, good):
    global cases
    cases += 1
    if not good:
        failures.append(what)


def run(program, *arguments, codes=(0,)):
    """The objects printed, one a line."""
    command = [os.path.join(BUILD, program), *arguments]
    done = subprocess.run(command, env=ENVIRONMENT, capture_output=True, text=True, check=False,
                          stdin=subprocess.DEVNULL)
    what = program + ' ' + ' '.join(arguments)
    check('%s: exit code %d: %s' % (what, done.returncode, done.stderr), done.returncode in codes)
    read = []
    for line in done.stdout.splitlines():
        try:
            read.append(strict(line))
        except ValueError as problem:
            check('%s: %s' % (what, problem), False)
    check(what + ': prints nothing', bool(read))
    return read or [{}]


def render(out, *arguments):
    subprocess.run([os.path.join(BUILD, 'demo/render'), '--stars', 'catalogs/stars.tsv',
                    '--focal', '135', '--aperture', '2.8', '--pixel', '32', '--size', '450x300',
                    '--exposure', '1', '--interval', '2', '--start', '2026-02-24T19:30:00',
                    '--azimuth', '195', '--altitude', '33', *arguments, '--out', out],
                   check=True, stdout=subprocess.DEVNULL)


def has_key(value, key):
    if isinstance(value, dict):
        return key in value or any(has_key(inner, key) for inner in value.values())
    return isinstance(value, list) and any(has_key(inner, key) for inner in value)


def check_frames(folder):
    night = os.path.join(folder, 'night')
    os.mkdir(night)
    render(os.path.join(night, 'f%02d.fits'), '--frames', '3')
    frames = [os.path.join(night, 'f%02d.fits' % n) for n in (1, 2, 3)]
    cap = os.path.join(folder, 'cap.fits')
    render(cap, '--cap')
    no_frame = os.path.join(folder, 'words.fits')
    with open(no_frame, 'w', encoding='utf-8') as file:
        file.write('only words')

    solved = run('alidade', 'solve', '--json', *frames)[0]
    check('solve measures health', 'fwhm_px' in solved.get('health', {}))
    check('solve names the body', 'model' in solved.get('camera', {}))
    run('alidade', 'solve', '--json', cap, no_frame, codes=(3,))

    place = ('--place', '50,10', '--zone', '+00:00')
    aimed = run('alidade', 'aim', '--target', 'M 42', '--json', *place, *frames)[0]
    check('aim says where the camera points', 'azimuth_deg' in aimed.get('camera_horizon', {}))
    check('aim names the body', aimed.get('camera') == solved.get('camera'))
    check('aim invents no health', not has_key(aimed, 'health') and not has_key(aimed, 'fwhm_px'))
    for how, key, phrase in (((), 'lead', ' over %d frames from '),
                             (('--centre',), 'drift', 're-centre in %d frames, at ')):
        aim = ('aim', '--target', 'M 42', *how, *place, frames[0])
        words = subprocess.run([os.path.join(BUILD, 'alidade'), *aim], env=ENVIRONMENT,
                               capture_output=True, text=True, check=False).stdout
        alone = run('alidade', *aim, '--json')[0]
        check('one number of frames: ' + words,
              phrase % alone[key]['frames'] in ' '.join(words.split()))
    stack = run('alidade', 'aim', '--target', 'M 42', '--json', '--stack', '100', *place,
                frames[0])[0]
    check('aim --stack measures health', stack.get('health', {}).get('fwhm_px', 0) > 1)
    for line in run('alidade', 'aim', '--target', 'M 42', '--json', cap, no_frame, codes=(3,)):
        check('aim invents no health of ' + str(line.get('frame')), not has_key(line, 'health'))

    run('alidade', 'object', '--in', frames[0], '--json')
    gemini = os.path.join(folder, 'gemini.jpg')
    subprocess.run([os.path.join(BUILD, 'demo/render'), '--stars', 'catalogs/stars.tsv', '--ra',
                    '106.5', '--dec', '22.9', '--focal', '135', '--pixel', '16', '--size',
                    '900x600', '--exposure', '1', '--tracked', '--out', gemini], check=True,
                   stdout=subprocess.DEVNULL)
    listed = run('alidade', 'object', '--in', gemini, '--time', '2026-02-24T19:30:00Z', '--json')[0]
    check('object --in lists Jupiter: ' + str(listed.get('bodies')),
          [body['name'] for body in listed.get('bodies', [])] == ['Jupiter'])
    check('no body without a time', run('alidade', 'object', '--in', gemini, '--json')[0]
          .get('bodies') == [])
    run('alidade', 'watch', night, '--target', 'M 42', '--once', '--json')
    log = os.path.join(night, 'alidade-night.jsonl')
    with open(log, encoding='utf-8') as file:
        for line in file:
            try:
                check('the log measures health', 'fwhm_px' in strict(line).get('health', {}))
            except ValueError as problem:
                check('the log: %s' % problem, False)


def main():
    with tempfile.TemporaryDirectory() as folder:
        check_frames(folder)
    for target in ((), ('--target', 'M 42')):
        run('alidade', 'plan', '--place', '50,10', '--date', '2026-02-24', '--focal', '250',
            '--pixel', '3.7', '--sensor', '22.2x14.8', '--json', *target)
    run('alidade', 'object', 'M 42', '--json')
    run('alidade-index', 'show', INDEX, '--json')
    for line in failures:
        print('FAILED: ' + line)
    print('%d cases, %d failures' % (cases, len(failures)))
    sys.exit(1 if failures else 0)


main()
