// The engine's own thread: takes command lines with their files, gives back code, text and files.
// {do: 'open', parts, key, script}      -> {id, ready, ms}       script: the text of all this
// {do: 'run', words, files, keep}       -> {id, code, answer, complaints, kept, ms, heap}
// {do: 'names'}                         -> {id, names}
// {do: 'help', module, stars}           -> {begun}       (worker/index_build.js)
// {do: 'choose', first, end}            -> {first, bytes}
// What does not come up at all          -> {failed}
// files: [[name, bytes]], removed afterwards; keep: names of files that the command writes.
'use strict';

let engine;

function run(words) {
    const code = engine.ccall('engine_run', 'number', ['string'], [words.join('\n')]);
    const text = name => engine.ccall(name, 'string', [], []);
    return { code, answer: text('engine_answer'), complaints: text('engine_complaints') };
}

async function openIndex(kept, stars, module, key, script) {
    if (kept) {
        engine.FS.writeFile(INDEX_FILE, kept, { canOwn: true });
        return;
    }
    postMessage({ progress: 'Making the index of stars, which is kept …' });
    await buildIndex(await stars, module, script);
    keepIndex(key, engine.FS.readFile(INDEX_FILE)); // meanwhile frames can be looked at
}

// Milliseconds since the last step; and piles: how many the other worker chose (worker/index_build.js).
const steps = {};
let lastStep;
function step(name) {
    const now = performance.now();
    steps[name] = Math.round(now - lastStep);
    lastStep = now;
}

// Compiles while it unpacks; compiled.module is there once createEngine's promise is kept.
function instantiate(text, compiled) {
    return (imports, done) => {
        const code = new Response(inflating(text), { headers: { 'Content-Type': 'application/wasm' } });
        WebAssembly.instantiateStreaming(code, imports).then(made => {
            compiled.module = made.module;
            done(made.instance, made.module);
        }, fault => postMessage({ failed: String(fault) }));
        return {};
    };
}

async function open(parts, key, script) {
    lastStep = performance.now();
    const compiled = {}, starting = createEngine({ instantiateWasm: instantiate(parts.engine, compiled) });
    const kept = keptIndex(key), names = Object.keys(parts.tables);
    const stars = kept.then(bytes => bytes ? null : inflate(parts.stars));
    const tables = Promise.all(names.map(name => inflate(parts.tables[name])));
    const [ready, bytes] = await Promise.all([starting, tables]);
    engine = ready;
    step('compile');
    engine.FS.mkdir('/data');
    engine.FS.mkdir('/in');
    bytes.forEach((table, i) => engine.FS.writeFile('/data/' + names[i], table, { canOwn: true }));
    step('tables');
    await openIndex(await kept, stars, compiled.module, key, script);
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

let asked = false; // for anything since it is ready

onmessage = async event => {
    const task = event.data, start = performance.now();
    asked = task.do !== 'open';
    try {
        if (task.do === 'open') {
            await open(task.parts, task.key, task.script);
            postMessage({ id: task.id, ready: true, steps, ms: performance.now() - start });
            warmUp(fromBase64(task.parts.warmUp), () => asked);
        } else if (task.do === 'help') {
            await help(task.module, task.stars);
        } else if (task.do === 'choose') {
            choosePile(task.first, task.end);
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
