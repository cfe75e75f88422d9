// Builds the index of stars at the first start, with a second worker that chooses half of the quads:
// chunks of stars are dealt out, to this worker from the first on, to the other from the last.
'use strict';

const PILE = 5; // chunks that are dealt at once

const building = (name, types, values) => engine.ccall('engine_build_' + name, 'number', types, values);

function mustBuild(code) {
    if (code) {
        throw new Error(engine.ccall('engine_complaint', 'string', [], []) || 'the index cannot be built');
    }
}

// The other worker, which runs the same script: its text, since a page from a disk does not allow a
// worker the address of its own. Nobody misses it where it does not come up.
class Helper {
    constructor(script, task) {
        this.piles = new Map(); // first chunk -> its bytes, or null while they are being made
        this.works = false;
        this.settled = () => {};
        try {
            this.worker = new Worker(URL.createObjectURL(new Blob([script], { type: 'text/javascript' })));
            this.worker.onmessage = event => this.take(event.data);
            this.worker.onerror = event => {
                event.preventDefault();
                this.lose();
            };
            this.worker.postMessage(task);
        } catch (fault) {
            this.worker = null;
        }
    }

    take(message) {
        if (message.failed || message.died) {
            this.lose();
        } else if (message.begun) {
            this.works = true;
        } else if (message.bytes) {
            this.piles.set(message.first, message.bytes);
            steps.piles = (steps.piles || 0) + 1;
        }
        this.settled();
    }

    // What it had not done is done here.
    lose() {
        this.works = false;
        for (const [first, bytes] of this.piles) {
            bytes || this.piles.delete(first);
        }
        this.settled();
    }

    ask(first, end) {
        this.piles.set(first, null);
        this.worker.postMessage({ do: 'choose', first, end });
    }

    busy() {
        return [...this.piles.values()].filter(bytes => !bytes).length;
    }

    change() {
        return new Promise(resolve => this.settled = resolve);
    }

    end() {
        this.worker && this.worker.terminate();
    }
}

// Lets messages in.
const channel = new MessageChannel();
const breath = () => new Promise(resolve => {
    channel.port1.onmessage = resolve;
    channel.port2.postMessage(0);
});

async function chooseAll(chunks, helper) {
    let low = 0, high = chunks;
    while (low < high) {
        await breath();
        while (helper.works && helper.busy() < 2 && high - low > 2 * PILE) {
            const first = high - PILE;
            helper.ask(first, high);
            high = first;
        }
        const end = Math.min(low + PILE, high);
        mustBuild(building('choose', ['number', 'number'], [low, end]));
        low = end;
    }
    while (low < chunks) {
        while (helper.piles.get(low) === null) {
            await helper.change();
        }
        const bytes = helper.piles.get(low);
        if (bytes) {
            engine.FS.writeFile('/pile', bytes, { canOwn: true });
            mustBuild(building('take', ['string'], ['/pile']));
            engine.FS.unlink('/pile');
            helper.piles.delete(low);
        } else {
            mustBuild(building('choose', ['number', 'number'], [low, Math.min(low + PILE, chunks)]));
        }
        low = Math.min(low + PILE, chunks);
    }
}

async function buildIndex(stars, module, script) {
    const helper = new Helper(script, { do: 'help', module, stars });
    try {
        engine.FS.writeFile('/data/stars', stars, { canOwn: true });
        const chunks = building('begin', ['string', 'string'], ['/data/stars', INDEX_FILE]);
        mustBuild(chunks ? 0 : 1);
        await chooseAll(chunks, helper);
        mustBuild(building('end', [], []));
        engine.FS.unlink('/data/stars');
    } finally {
        helper.end();
    }
}

// In the other worker.
async function help(module, stars) {
    engine = await createEngine({ instantiateWasm: (imports, done) => {
        WebAssembly.instantiate(module, imports).then(made => done(made, module), fault => postMessage({ failed: String(fault) }));
        return {};
    } });
    engine.FS.mkdir('/data');
    engine.FS.writeFile('/data/stars', stars, { canOwn: true });
    mustBuild(building('begin', ['string', 'string'], ['/data/stars', INDEX_FILE]) ? 0 : 1);
    postMessage({ begun: true });
}

function choosePile(first, end) {
    mustBuild(building('give', ['number', 'number', 'string'], [first, end, '/pile']));
    const bytes = engine.FS.readFile('/pile');
    postMessage({ first, bytes }, [bytes.buffer]);
}
