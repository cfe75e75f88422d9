// The engine's own thread: takes command lines with their files, gives back code, text and files.
// {do: 'open', parts, key}              -> {id, ready, ms}
// {do: 'run', words, files, keep}       -> {id, code, answer, complaints, kept, ms, heap}
// {do: 'names'}                         -> {id, names}
// What does not come up at all          -> {failed}
// files: [[name, bytes]], removed afterwards; keep: names of files that the command writes.
'use strict';

let engine;

function run(words) {
    const code = engine.ccall('engine_run', 'number', ['string'], [words.join('\n')]);
    const text = name => engine.ccall(name, 'string', [], []);
    return { code, answer: text('engine_answer'), complaints: text('engine_complaints') };
}

async function openIndex(kept, stars, key) {
    if (kept) {
        engine.FS.writeFile(INDEX_FILE, kept, { canOwn: true });
        return;
    }
    postMessage({ progress: 'Making the index of stars, which is kept …' });
    engine.FS.writeFile('/data/stars.tsv', starTable(await inflate(stars)), { canOwn: true });
    const built = run(['alidade-index', 'build', '/data/stars.tsv', '--output', INDEX_FILE, '--name', 'Hipparcos']);
    engine.FS.unlink('/data/stars.tsv');
    if (built.code) {
        throw new Error(built.complaints);
    }
    keepIndex(key, engine.FS.readFile(INDEX_FILE)); // meanwhile frames can be looked at
}

// Milliseconds since the last step.
const steps = {};
let lastStep;
function step(name) {
    const now = performance.now();
    steps[name] = Math.round(now - lastStep);
    lastStep = now;
}

// Compiles while it unpacks.
function instantiate(text) {
    return (imports, done) => {
        const code = new Response(inflating(text), { headers: { 'Content-Type': 'application/wasm' } });
        WebAssembly.instantiateStreaming(code, imports).then(made => done(made.instance, made.module),
            fault => postMessage({ failed: String(fault) }));
        return {};
    };
}

async function open(parts, key) {
    lastStep = performance.now();
    const kept = keptIndex(key), names = Object.keys(parts.tables);
    const tables = Promise.all(names.map(name => inflate(parts.tables[name])));
    const [ready, bytes] = await Promise.all([createEngine({ instantiateWasm: instantiate(parts.engine) }), tables]);
    engine = ready;
    step('compile');
    engine.FS.mkdir('/data');
    engine.FS.mkdir('/in');
    bytes.forEach((table, i) => engine.FS.writeFile('/data/' + names[i], table, { canOwn: true }));
    step('tables');
    await openIndex(await kept, parts.stars, key);
    step('index');
}

function runWithFiles(task) {
    for (const [name, bytes] of task.files || []) {
        engine.FS.writeFile(name, bytes, { canOwn: true });
    }
    const done = run(task.words);
    done.kept = {};
    for (const name of task.keep || []) {
        if (engine.FS.analyzePath(name).exists) {
            done.kept[name] = engine.FS.readFile(name);
            engine.FS.unlink(name);
        }
    }
    for (const [name] of task.files || []) {
        engine.FS.unlink(name);
    }
    done.heap = engine.HEAPU8.length;
    return done;
}

onmessage = async event => {
    const task = event.data, start = performance.now();
    try {
        if (task.do === 'open') {
            await open(task.parts, task.key);
            postMessage({ id: task.id, ready: true, steps, ms: performance.now() - start });
        } else if (task.do === 'names') {
            postMessage({ id: task.id, names: namesOf(name => engine.FS.readFile('/data/' + name, { encoding: 'utf8' })) });
        } else {
            const done = runWithFiles(task);
            postMessage({ id: task.id, ...done, ms: performance.now() - start });
        }
    } catch (fault) {
        postMessage({ id: task.id, died: String(fault && fault.message || fault) });
    }
};
