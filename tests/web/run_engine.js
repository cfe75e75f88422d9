// Runs command lines through the page's engine in node: node run_engine.js BUILD CATALOGS, then on
// standard input a line each of JSON: {"words": [...], "files": {"/name.jpg": "path"}}. Prints a line
// of JSON each: {"code", "answer", "complaints"}.
'use strict';
const fs = require('fs');
const path = require('path');
const createEngine = require(path.resolve(process.argv[2], 'web/engine.js'));
const { pack } = require('../../src/web/assemble/pack_stars.js');

const wasm = fs.readFileSync(path.resolve(process.argv[2], 'web/engine.wasm'));
const INDEX = '/data/hipparcos.alidx';

async function openEngine(stars) {
    const engine = await createEngine({ wasmBinary: wasm });
    engine.FS.mkdir('/data');
    engine.FS.mkdir('/in');
    engine.FS.writeFile('/data/stars', stars);
    return engine;
}

// As the page does with two workers: the second half of the quads comes from another engine.
async function buildIndex(stars) {
    const engines = [await openEngine(stars), await openEngine(stars)];
    const build = (which, name, types = [], values = []) => engines[which].ccall('engine_build_' + name, 'number', types, values);
    const good = code => {
        if (code) {
            throw new Error('the index: ' + engines[0].ccall('engine_complaint', 'string', [], []));
        }
    };
    const chunks = build(0, 'begin', ['string', 'string'], ['/data/stars', INDEX]), half = chunks >> 1;
    good(build(1, 'begin', ['string', 'string'], ['/data/stars', INDEX]) === chunks && chunks > 2 ? 0 : 1);
    good(build(1, 'give', ['number', 'number', 'string'], [half, chunks, '/pile']));
    engines[0].FS.writeFile('/pile', engines[1].FS.readFile('/pile'));
    good(build(0, 'choose', ['number', 'number'], [0, half]));
    good(build(0, 'take', ['string'], ['/pile']));
    good(build(0, 'end'));
    return engines[0];
}

async function main() {
    const engine = await buildIndex(pack(fs.readFileSync(path.join(process.argv[3], 'stars.tsv'), 'utf8')));
    if (!Buffer.from(engine.FS.readFile(INDEX)).equals(fs.readFileSync(path.resolve(process.argv[2], 'hipparcos.alidx')))) {
        throw new Error("the page's index is not the program's");
    }
    for (const name of fs.readdirSync(process.argv[3])) {
        if (name.endsWith('.tsv')) {
            engine.FS.writeFile('/data/' + name, fs.readFileSync(path.join(process.argv[3], name)));
        }
    }
    const run = words => {
        const code = engine.ccall('engine_run', 'number', ['string'], [words.join('\n')]);
        const text = name => engine.ccall(name, 'string', [], []);
        return { code, answer: text('engine_answer'), complaints: text('engine_complaints') };
    };
    for (const line of fs.readFileSync(0, 'utf8').split('\n').filter(Boolean)) {
        const task = JSON.parse(line);
        for (const name in task.files || {}) {
            engine.FS.writeFile(name, fs.readFileSync(task.files[name]));
        }
        const done = run(task.words);
        for (const name in task.files || {}) {
            engine.FS.unlink(name);
        }
        if (task.keep && done.code === 0) {
            fs.writeFileSync(task.keep.to, engine.FS.readFile(task.keep.from));
        }
        console.log(JSON.stringify(done));
    }
}
main().catch(fault => {
    console.error(String(fault && fault.stack || fault).slice(0, 2000));
    process.exit(1);
});
