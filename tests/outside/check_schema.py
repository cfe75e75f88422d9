#!/usr/bin/env python3
"""Every line of JSON that the program prints or keeps, against the JSON Schema that comes out of its
tables: by the module jsonschema (python3-jsonschema), which also holds the schema against the
meta-schema of draft 2020-12. A key twice in an object, a key that no table has, and one that is
missing are all errors. The lines of the demo are checked too where it was run."""
import glob
import json
import os
import subprocess
import sys
import tempfile

import jsonschema

os.chdir(os.path.join(os.path.dirname(os.path.abspath(__file__)), '..', '..'))
sys.path.insert(0, os.path.abspath('tests'))
from strict_json import strict  # noqa: E402

BUILD = os.path.abspath(os.environ.get('BUILD', 'build'))
ENVIRONMENT = dict(os.environ, ALIDADE_CATALOGS=os.path.abspath('catalogs'),
                   ALIDADE_INDEX=os.path.join(BUILD, 'hipparcos.alidx'))
PLACE = ('--place', '50,10', '--zone', '+00:00')
failures = []
cases = 0
seen = {}


def check(what, good):
    global cases
    cases += 1
    if not good:
        failures.append(what)


with open(os.path.join(BUILD, 'alidade.schema.json'), encoding='utf-8') as text:
    SCHEMA = strict(text.read())
VALIDATOR = jsonschema.Draft202012Validator


def validator(table):
    return VALIDATOR({'$ref': '#/$defs/' + table, '$defs': SCHEMA['$defs']})


def problem_of(value, table):
    """The first thing that is wrong, or None."""
    for error in validator(table).iter_errors(value):
        return '%s: %s' % ('.'.join(str(part) for part in error.path), error.message[:200])
    return None


def note_keys(value, into):
    if isinstance(value, dict):
        for key, inner in value.items():
            into.add(key)
            note_keys(inner, into)
    elif isinstance(value, list):
        for inner in value:
            note_keys(inner, into)


def check_line(what, line, table):
    """A line of watch may be an alert, the last one of aim a series."""
    try:
        value = strict(line)
    except ValueError as problem:
        check('%s: %s' % (what, problem), False)
        return {}
    table = 'alert' if 'alert' in value else 'series' if 'series' in value else table
    table = 'stack' if next(iter(value)) == 'stack' else table
    check('%s: %s' % (what, problem_of(value, table)), problem_of(value, table) is None)
    note_keys(value, seen.setdefault(table, set()))
    return value


def run(table, *arguments, codes=(0,), program='alidade'):
    done = subprocess.run([os.path.join(BUILD, program), *arguments], env=ENVIRONMENT,
                          capture_output=True, encoding='utf-8', errors='replace',
                          check=False, stdin=subprocess.DEVNULL)
    what = ' '.join(arguments)
    check('%s: exit code %d: %s' % (what, done.returncode, done.stderr), done.returncode in codes)
    lines = [check_line(what, line, table) for line in done.stdout.splitlines()]
    check(what + ': prints nothing', bool(lines))
    return lines


def render(out, *arguments):
    subprocess.run([os.path.join(BUILD, 'demo/render'), '--stars', 'catalogs/stars.tsv',
                    '--focal', '135', '--aperture', '2.8', '--pixel', '32', '--size', '450x300',
                    '--exposure', '1', '--interval', '2', '--start', '2026-02-24T19:30:00',
                    '--azimuth', '195', '--altitude', '33', *arguments, '--out', out],
                   check=True, stdout=subprocess.DEVNULL)


def check_refusals(frame):
    """What is wrong is found: else all that passes would mean nothing."""
    check('a good frame', problem_of(frame, 'frame') is None)
    wrong = (('a key that no table has', lambda o: o.update(colour='red')),
             ('an inner key that no table has', lambda o: o['health']['trail'].update(px=1)),
             ('a key that is missing', lambda o: o.pop('solved')),
             ('an inner key that is missing', lambda o: o['centre'].pop('ra')),
             ('a text for a number', lambda o: o['field'].update(width_deg='5')),
             ('null for what is always known', lambda o: o.update(scale_arcsec_px=None)),
             ('a word that is none', lambda o: o['health'].update(verdict='splendid')),
             ('another format', lambda o: o.update(format=1)),
             ('too few axes', lambda o: o['pose']['axes'].pop()))
    for what, spoil in wrong:
        spoilt = json.loads(json.dumps(frame))
        spoil(spoilt)
        check(what + ' goes by', problem_of(spoilt, 'frame') is not None)
    try:
        strict('{"a": {"b": 1, "b": 1}}')
        check('a key twice goes by', False)
    except ValueError:
        pass


def check_frames(folder):
    night = os.path.join(folder, 'night')
    os.mkdir(night)
    render(os.path.join(night, 'f%02d.fits'), '--frames', '6')
    frames = sorted(glob.glob(os.path.join(night, '*.fits')))
    cap = os.path.join(folder, 'cap.fits')
    render(cap, '--cap')
    panned = os.path.join(folder, 'panned.fits')
    render(panned, '--azimuth', '205')
    words = os.path.join(folder, 'words\udcff.fits')
    with open(words, 'w', encoding='utf-8') as file:
        file.write('only words')
    check_refusals(run('frame', 'solve', '--json', *frames)[0])
    run('frame', 'solve', '--json', cap, words, codes=(3,))
    run('aim', 'aim', '--target', 'M 42', '--json', *frames)
    run('aim', 'aim', '--target', 'M 42', '--json', *PLACE, '--stack', '100', '--level',
        '--batch', '5', *frames[:3])
    run('aim', 'aim', '--target', 'Sirius', '--json', *PLACE, frames[0], cap, words, codes=(3,))
    rig = os.path.join(folder, 'rig.ini')
    with open(rig, 'w', encoding='utf-8') as file:
        file.write('[head Small]\n')
    run('learned', 'aim', '--learn-head', 'pan', '--head', 'Small', '--rig', rig, '--json',
        *PLACE, frames[0], panned)
    run('learned-lens', 'solve', '--learn-lens', '--lens', 'Small', '--rig', rig, '--json',
        *frames[:3])
    with open(rig, 'w', encoding='utf-8') as file:
        file.write('[place Garden]\nlatitude = 50\nlongitude = 10\n')
    wide = os.path.join(folder, 'wide.fits')
    render(wide, '--focal', '20', '--exposure', '13', '--sky', '20', '--size', '1500x1000',
           '--skyline', '150:10 200:20 250:10', '--altitude', '25', '--aperture', '2.8')
    run('learned-skyline', 'aim', '--learn-skyline', '--rig', rig, '--json', '--place', 'Garden',
        '--zone', '+00:00', wide)
    run('aim', 'aim', '--target', 'M 42', '--json', '--place', 'Garden', '--rig', rig, '--zone',
        '+00:00', frames[0])
    run('objects', 'object', '--in', frames[0], '--json')
    run('objects', 'object', '--in', cap, '--json', codes=(1,))
    lines = run('frame', 'watch', night, '--target', 'Sirius', '--once', '--json', *PLACE)
    moves = [line['move'] for line in lines if 'move' in line]
    check('an alert tells a move: %s' % lines, bool(moves) and 'pan_right_deg' in moves[0])
    with open(os.path.join(night, 'alidade-night.jsonl'), encoding='utf-8') as log:
        for line in log:
            check_line('the log', line, 'frame')
    run('frame', 'watch', night, '--target', 'M 42', '--once', '--json', *PLACE, '--stack',
        os.path.join(folder, 'stack.png'), '--log', os.path.join(folder, 'other.jsonl'))
    review = run('review', 'review', night, '--json', '--target', 'M 42')[0]
    check('review judges every frame', len(review.get('frames', [])) == len(frames))
    run('review', 'review', cap, '--json', codes=(1,))


def check_demo():
    """Lines of the program as it was when the demo was run: those of an older format are passed
    over."""
    whole = VALIDATOR(SCHEMA)
    for name in sorted(glob.glob('demo/out/**/*.json*', recursive=True)):
        with open(name, encoding='utf-8') as file:
            # A night plan is one object over many lines.
            texts = [file.read()] if name.endswith('night-plan.json') else file
            for number, text in enumerate(texts, 1):
                try:
                    value = strict(text)
                except ValueError as problem:
                    check('%s:%d: %s' % (name, number, problem), False)
                    continue
                if value.get('format') == SCHEMA['x-format']:
                    check('%s:%d: as no table has it' % (name, number), whole.is_valid(value))


def main():
    VALIDATOR.check_schema(SCHEMA)
    with tempfile.TemporaryDirectory() as folder:
        check_frames(folder)
    night = ('plan', '--place', '50,10', '--date', '2026-02-24', '--focal', '250', '--pixel', '3.7',
             '--sensor', '22.2x14.8', '--json')
    run('plan', *night)
    run('plan_target', *night, '--target', 'M 42')
    run('plan_target', *night, '--target', 'M 7', codes=(0, 1))
    run('object', 'object', 'M 42', '--json', '--frame-of', '250,22.2x14.8')
    run('object', 'object', 'Vega', '--json')
    run('index', 'show', '--json', ENVIRONMENT['ALIDADE_INDEX'], program='alidade-index')
    check_demo()
    # What the live page is given, tests/end/check_page_http.py holds against its schema.
    elsewhere = {name for name in SCHEMA['$defs'] if name.startswith('page')}
    never = sorted(set(SCHEMA['$defs']) - set(seen) - elsewhere)
    check('tables that no command here has used: ' + ', '.join(never), not never)
    for line in failures:
        print('FAILED: ' + line)
    print('%d cases, %d failures' % (cases, len(failures)))
    sys.exit(1 if failures else 0)


main()
