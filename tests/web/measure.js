// Measures the page in headless Chromium: how long it takes to start, first and later, and at a
// quarter of the processor's speed; how long a frame takes, drawing and all; how much memory.
// usage: node measure.js BUILD JPEG RAW [NUMBERS]     a JPEG of 6 megapixels, a raw file of 24; a
//        file that gets a line of key, tab and value for each figure
'use strict';
const fs = require('fs');
const http = require('http');
const path = require('path');
const zlib = require('zlib');
const { Browser } = require('./browser.js');

const [build, jpeg, raw, numbers] = process.argv.slice(2);
const TIMES = 5; // of what differs from one time to the next the median counts
const ready = 'document.documentElement.dataset.ready';

function note(key, value, words) {
    console.log(`  ${words}: ${value}`);
    if (numbers) {
        fs.appendFileSync(numbers, `page.${key}\t${value}\n`);
    }
}

const median = values => [...values].sort((a, b) => a - b)[values.length >> 1];
const seconds = ms => (ms / 1000).toFixed(3);

function serve() {
    const kinds = { '.html': 'text/html', '.js': 'text/javascript', '.webmanifest': 'application/manifest+json' };
    const server = http.createServer((request, response) => {
        const file = path.join(build, 'web/app', path.basename(request.url.split('?')[0]) || 'index.html');
        fs.existsSync(file) ? response.writeHead(200, { 'Content-Type': kinds[path.extname(file)] || 'image/png' }).end(fs.readFileSync(file))
            : response.writeHead(404).end();
    });
    return new Promise(resolve => server.listen(0, '127.0.0.1', () => resolve(server)));
}

// From the click on a link until an answer can be asked for, ms.
async function start(browser, url) {
    await browser.go('about:blank');
    await browser.until("location.href === 'about:blank'");
    const begin = Date.now();
    await browser.go(url);
    await browser.until(ready, 180000);
    const all = Date.now() - begin;
    console.log(`    ready after ${all} ms; in the worker ${await browser.value(ready)}: ${await browser.value('JSON.stringify(Engine.steps)')}`);
    return all;
}

// From the choice of a file until the move is told, and until the drawing is there, ms.
async function answer(browser, file) {
    const begin = await browser.value('performance.now()');
    await browser.value("show('answer', false), show('keep', false), Frame.current = null");
    await browser.give('#file', [file]);
    await browser.until("Frame.current && !$('answer').hidden", 120000);
    const told = await browser.value("performance.getEntriesByName('answered').pop().startTime") - begin;
    await browser.until('!Frame.busy', 120000);
    const all = await browser.value("performance.getEntriesByName('drawn').pop().startTime") - begin;
    console.log(`    told after ${told.toFixed(0)} ms, drawn after ${all.toFixed(0)}`);
    return { told, all };
}

// First starts: each in a browser that has nothing of the page. The first answer is asked for two
// seconds later, no sooner than a picture can be chosen by hand.
async function firstStarts(url) {
    const starts = [], answers = [];
    for (let i = 0; i < TIMES; i++) {
        const browser = await Browser.open();
        await browser.size(390, 844);
        starts.push(await start(browser, url));
        await new Promise(resolve => setTimeout(resolve, 2000));
        answers.push((await answer(browser, jpeg)).told);
        await browser.close();
    }
    note('first_start_s', seconds(median(starts)), 'first start, s');
    note('first_answer_s', seconds(median(answers)), 'first answer, s');
}

async function laterOnes(url) {
    const browser = await Browser.open(), starts = [], answers = [];
    await browser.size(390, 844);
    await start(browser, url);
    await new Promise(resolve => setTimeout(resolve, 2000)); // until the index is put away
    for (let i = 0; i < TIMES; i++) {
        starts.push(await start(browser, url));
    }
    note('later_start_s', seconds(median(starts)), 'later start, s');
    for (let i = 0; i < TIMES; i++) {
        answers.push((await answer(browser, jpeg)).all);
    }
    note('later_answer_s', seconds(median(answers.slice(1))), 'answered and drawn, s');
    await answer(browser, raw);
    note('heap_mb', (await browser.value("Engine.run(['--version']).then(done => done.heap)") / 1e6).toFixed(1), 'heap after a raw file, MB');
    await browser.close();
}

async function slowStarts(url) {
    const starts = [];
    for (let i = 0; i < TIMES; i++) {
        const browser = await Browser.open();
        browser.slowDown(4);
        starts.push(await start(browser, url));
        await browser.close();
    }
    note('slow_start_s', seconds(median(starts)), 'first start at a quarter of the speed, s');
}

async function main() {
    const server = await serve(), url = 'http://127.0.0.1:' + server.address().port + '/';
    await firstStarts(url);
    await laterOnes(url);
    await slowStarts(url);
    server.close();
    const page = fs.readFileSync(path.join(build, 'web/app/index.html'));
    note('download_mb', (zlib.gzipSync(page, { level: 9 }).length / 1e6).toFixed(3), 'download, gzip, MB');
}
main().catch(fault => {
    console.log(fault.stack || fault);
    process.exit(1);
});
