// The engine's own thread: takes command lines with their files, gives back code, text and files.
// {do: 'open', parts, key}              -> {id, ready, ms}
// {do: 'run', words, files, keep}       -> {id, code, answer, complaints, kept, ms, heap}
// {do: 'names'}                         -> {id, names}
// files: [[name, bytes]], removed afterwards; keep: names of files that the command writes.
'use strict';

let engine;

function run(words) {
    const code = engine.ccall('engine_run', 'number', ['string'], [words.join('\n')]);
    const text = name => engine.ccall(name, 'string', [], []);
    return { code, answer: text('engine_answer'), complaints: text('engine_complaints') };
}

async function openIndex(stars, key) {
    const kept = await keptIndex(key);
    if (kept) {
        engine.FS.writeFile(INDEX_FILE, kept);
        return;
    }
    postMessage({ progress: 'Making the index of stars, which is kept …' });
    engine.FS.writeFile('/data/stars.tsv', starTable(await inflate(stars)));
    const built = run(['alidade-index', 'build', '/data/stars.tsv', '--output', INDEX_FILE, '--name', 'Hipparcos']);
    engine.FS.unlink('/data/stars.tsv');
    if (built.code) {
        throw new Error(built.complaints);
    }
    await keepIndex(key, engine.FS.readFile(INDEX_FILE));
}

// Milliseconds since the last step.
const steps = {};
let lastStep;
function step(name) {
    const now = performance.now();
    steps[name] = Math.round(now - lastStep);
    lastStep = now;
}

async function open(parts, key) {
    lastStep = performance.now();
    const code = await inflate(parts.engine);
    step('unpack');
    engine = await createEngine({ wasmBinary: code });
    step('compile');
    engine.FS.mkdir('/data');
    engine.FS.mkdir('/in');
    for (const name in parts.tables) {
        engine.FS.writeFile('/data/' + name, await inflate(parts.tables[name]));
    }
    step('tables');
    await openIndex(parts.stars, key);
    step('index');
}

function runWithFiles(task) {
    for (const [name, bytes] of task.files || []) {
        engine.FS.writeFile(name, bytes);
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
