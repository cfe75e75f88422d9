// Measures the page in headless Chromium: how long it takes to start, first and later, and at a
// quarter of the processor's speed; how long a frame takes, drawing and all; how much memory. One
// line a figure, "NAME<tab>VALUE<tab>GOAL".
// usage: node measure.js BUILD JPEG RAW        a JPEG of 6 megapixels, a raw file of 24
'use strict';
const fs = require('fs');
const http = require('http');
const path = require('path');
const zlib = require('zlib');
const { Browser } = require('./browser.js');

const [build, jpeg, raw] = process.argv.slice(2);
const say = (name, value, goal) => console.log([name, value, goal].join('\t'));
const ready = 'document.documentElement.dataset.ready';

function serve() {
    const kinds = { '.html': 'text/html', '.js': 'text/javascript', '.webmanifest': 'application/manifest+json' };
    const server = http.createServer((request, response) => {
        const file = path.join(build, 'web/app', path.basename(request.url.split('?')[0]) || 'index.html');
        fs.existsSync(file) ? response.writeHead(200, { 'Content-Type': kinds[path.extname(file)] || 'image/png' }).end(fs.readFileSync(file))
            : response.writeHead(404).end();
    });
    return new Promise(resolve => server.listen(0, '127.0.0.1', () => resolve(server)));
}

// From the click on a link until an answer can be asked for.
async function start(browser, url) {
    await browser.go('about:blank');
    await browser.until("location.href === 'about:blank'");
    const begin = Date.now();
    await browser.go(url);
    await browser.until(ready, 180000);
    return { all: Date.now() - begin, worker: Number(await browser.value(ready)), steps: await browser.value('JSON.stringify(Engine.steps || {})') };
}

async function answer(browser, file) {
    const begin = await browser.value('performance.now()');
    await browser.value("show('answer', false), show('keep', false), Frame.current = null");
    await browser.give('#file', [file]);
    await browser.until("Frame.current && !$('answer').hidden", 120000);
    const told = await browser.value("performance.getEntriesByName('answered').pop().startTime") - begin;
    await browser.until('!Frame.busy', 120000);
    return { told, all: await browser.value("performance.getEntriesByName('drawn').pop().startTime") - begin };
}

async function main() {
    const server = await serve(), url = 'http://127.0.0.1:' + server.address().port + '/';
    const browser = await Browser.open();
    await browser.size(390, 844);
    const first = await start(browser, url);
    say('first start, ms', first.all, 1500);
    console.log('   in the worker', first.worker, first.steps);
    for (let i = 0; i < 3; i++) {
        const later = await start(browser, url);
        say('later start, ms', later.all, 500);
        console.log('   in the worker', later.worker, later.steps);
    }
    if (jpeg) {
        for (let i = 0; i < 4; i++) {
            const took = await answer(browser, jpeg);
            say('frame answered, ms', took.told.toFixed(0), '');
            say('frame answered and drawn, ms', took.all.toFixed(0), 600);
        }
    }
    if (raw) {
        const took = await answer(browser, raw);
        say('raw answered and drawn, ms', took.all.toFixed(0), '');
        say('heap after it, MB', (await browser.value("Engine.run(['--version']).then(done => done.heap)") / 1e6).toFixed(0), 160);
    }
    await browser.close();
    const slow = await Browser.open();
    slow.slowDown(4);
    const throttled = await start(slow, url);
    say('first start at a quarter, ms', throttled.all, 6000);
    await slow.close();
    server.close();
    const page = fs.readFileSync(path.join(build, 'web/app/index.html'));
    say('first download, gzip, MB', (zlib.gzipSync(page, { level: 9 }).length / 1e6).toFixed(2), 2.5);
    say('first download, brotli, MB', (zlib.brotliCompressSync(page).length / 1e6).toFixed(2), 2.5);
}
main().catch(fault => {
    console.log(fault.stack || fault);
    process.exit(1);
});
