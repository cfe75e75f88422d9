// Runs command lines through the page's engine in node: node run_engine.js BUILD CATALOGS, then on
// standard input a line each of JSON: {"words": [...], "files": {"/name.jpg": "path"}}. Prints a line
// of JSON each: {"code", "answer", "complaints"}.
'use strict';
const fs = require('fs');
const path = require('path');
const createEngine = require(path.resolve(process.argv[2], 'web/engine.js'));

async function main() {
    const wasm = path.resolve(process.argv[2], 'web/engine.wasm');
    const engine = await createEngine({ wasmBinary: fs.readFileSync(wasm) });
    engine.FS.mkdir('/data');
    engine.FS.mkdir('/in');
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
    const built = run(['alidade-index', 'build', '/data/stars.tsv', '--output', '/data/hipparcos.alidx', '--name', 'Hipparcos']);
    if (built.code) {
        console.error(built.complaints);
        process.exit(1);
    }
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
