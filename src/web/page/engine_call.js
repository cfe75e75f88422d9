// The page's side of the engine: command lines as promises, one at a time. A worker that dies of a
// file is replaced by a new one.
'use strict';

const Engine = {
    waiting: new Map(),
    next: 1,
    steps: null, // milliseconds that each step of the start took
    ready: null, // promise of the milliseconds that the start took

    start() {
        const source = document.getElementById('engine-source').textContent;
        this.worker = new Worker(URL.createObjectURL(new Blob([source], { type: 'text/javascript' })));
        this.worker.onmessage = event => this.settle(event.data);
        this.worker.onerror = event => this.settleAll(event.message || 'it stopped');
        const parts = JSON.parse(document.getElementById('parts').textContent);
        this.ready = this.send({ do: 'open', parts, key: parts.key, script: source }).then(done => {
            this.steps = done.steps;
            return done.ms;
        });
        return this.ready;
    },

    send(task) {
        const id = this.next++;
        return new Promise((resolve, reject) => {
            this.waiting.set(id, { resolve, reject, starting: task.do === 'open' });
            this.worker.postMessage({ ...task, id });
        });
    },

    // words: the command line after "alidade"; files: [[name, Uint8Array]]; keep: names.
    run(words, files = [], keep = []) {
        return this.ready.then(() => this.send({
            do: 'run', keep, files, words: ['alidade', ...words],
        }));
    },

    // All names, as worker/names.js writes them.
    names() {
        return this.ready.then(() => this.send({ do: 'names' })).then(done => done.names);
    },

    settle(message) {
        if (message.progress) {
            say('progress', message.progress);
            return;
        }
        if (message.failed) {
            this.settleAll(message.failed);
            return;
        }
        const waiting = this.waiting.get(message.id);
        this.waiting.delete(message.id);
        if (!waiting) {
            return;
        }
        if (message.died && waiting.starting) {
            waiting.reject(new Error(message.died)); // it would not start a second time either
        } else if (message.died) {
            waiting.reject(new Error('this file was too much for the page: ' + message.died));
            this.restart('');
        } else {
            waiting.resolve(message);
        }
    },

    settleAll(reason) {
        for (const { reject } of this.waiting.values()) {
            reject(new Error(reason));
        }
        this.waiting.clear();
    },

    // Stops what is being worked on; the next command waits for the new start.
    restart(reason = 'Cancelled') {
        this.worker.terminate();
        this.settleAll(reason);
        return this.start();
    },
};
