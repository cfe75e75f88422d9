// A night's report with the engine in it judges itself anew, in headless Chromium, and then says what
// the program says of the same: another target, other limits, one more frame. It asks for nothing.
// usage: node judged_anew.js BUILD [FOLDER FOR PICTURES]
'use strict';
const { execFileSync, spawnSync } = require('child_process');
const fs = require('fs');
const os = require('os');
const path = require('path');
const { Browser } = require('./browser.js');

const [build, pictures] = process.argv.slice(2);
const faults = [];
let checks = 0;

function check(right, text) {
    checks++;
    if (!right) {
        faults.push(text);
        console.log('WRONG ' + text);
    }
}

function renderNight(folder) {
    const night = path.join(folder, 'night');
    fs.mkdirSync(night);
    execFileSync(build + '/demo/render', ['--start', '2026-02-24T19:30:00', '--azimuth', '196.2', '--altitude', '33.4', '--focal', '200',
        '--pixel', '16', '--size', '900x600', '--frames', '6', '--interval', '40', '--out', path.join(night, 'night-%03d.jpg')]);
    const more = path.join(folder, 'one-more.jpg');
    execFileSync(build + '/demo/render', ['--start', '2026-02-24T19:40:00', '--azimuth', '150', '--altitude', '40', '--focal', '200',
        '--pixel', '16', '--size', '900x600', '--out', more]);
    return { night, more };
}

// What the report shows, but for the form that judges anew and the list of pictures.
const shown = "[...document.querySelectorAll('main > :not(#once-more):not(script)')].map(e => e.textContent).join('\\n')";

function review(folder, name, words) {
    const file = path.join(folder, name);
    const done = spawnSync(build + '/alidade', ['review', ...words, '--html', file], { encoding: 'utf8' });
    if (![0, 1].includes(done.status)) {
        throw new Error(done.stderr);
    }
    return file;
}

async function textOf(browser, file) {
    await browser.go('file://' + file);
    await browser.until("document.readyState === 'complete' && document.querySelector('main')");
    return browser.value(shown);
}

async function main() {
    const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'report-'));
    const { night, more } = renderNight(folder);
    const log = path.join(folder, 'lines.jsonl'), page = path.join(build, 'web/alidade.html');
    const browser = await Browser.open(), asked = [];
    try {
        const report = review(folder, 'report.html', [night, '--log', log, '--target', 'M 42', '--with-engine', page]);
        const text = fs.readFileSync(log, 'utf8');
        fs.appendFileSync(log, execFileSync(path.resolve(build, 'alidade'), ['solve', '--json', path.basename(more)], { cwd: folder }));
        const wanted = {
            orion: await textOf(browser, review(folder, 'a.html', [night, '--log', path.join(folder, 'a.jsonl'), '--target', 'M 42'])),
            andromeda: await textOf(browser, review(folder, 'b.html', ['--from', path.join(folder, 'a.jsonl'), '--target', 'M 31'])),
            strict: await textOf(browser, review(folder, 'c.html', ['--from', path.join(folder, 'a.jsonl'), '--target', 'M 42', '--in-frame', '120,100.5'])),
            more: await textOf(browser, review(folder, 'd.html', ['--from', log, '--target', 'M 42', '--in-frame', '99.5,50'])),
        };
        check(new Set(Object.values(wanted)).size === 4 && text.split('\n').length === 7, 'the night is too dull to test anything');
        browser.on((method, params) => method === 'Network.requestWillBeSent' && !/^(blob|data):/.test(params.request.url) && asked.push(params.request.url));
        browser.on((method, params) => method === 'Runtime.exceptionThrown' && check(false, JSON.stringify(params.exceptionDetails).slice(0, 300)));
        await browser.size(390, 844);
        check(await textOf(browser, report) === wanted.orion, 'with an engine the report reads differently');
        const pictured = await browser.value("document.querySelectorAll('.pic img').length");
        const again = async (what, change, sum) => {
            await browser.value(change);
            await browser.until(`$('progress').textContent === '${sum} frames judged anew'`, 300000);
            const there = await browser.value(shown);
            const at = [...there].findIndex((letter, i) => letter !== wanted[what][i]);
            check(there === wanted[what], `${what}: "${there.slice(at - 30, at + 90)}", the program "${wanted[what].slice(at - 30, at + 90)}"`);
            await browser.value("say('progress', '')");
        };
        await again('andromeda', "$('wish-target').value = 'M 31', $('wish-target').onchange(), 0", 6);
        await again('strict', "$('wish-target').value = 'M 42', $('wish-in-frame').value = '120,100.5', $('wish-in-frame').onchange(), 0", 6);
        await again('orion', "$('wish-in-frame').value = '99.5,50', $('wish-in-frame').onchange(), 0", 6);
        check(pictured > 0 && await browser.value("document.querySelectorAll('.pic img').length") === pictured, 'pictures are lost');
        await browser.give('#once-more input[type=file]', [more]);
        await again('more', '0', 7);
        if (pictures) {
            await browser.value("$('once-more').scrollIntoView()");
            await browser.picture(path.join(pictures, 'report.png'));
        }
        check(asked.length === 1, 'the report asked for ' + asked.slice(1));
        console.log(`a report of ${(fs.statSync(report).size / 1e6).toFixed(2)} MB: ${checks} checks, ${faults.length} wrong`);
    } finally {
        await browser.close();
        fs.rmSync(folder, { recursive: true, force: true });
    }
    process.exit(faults.length > 0 ? 1 : 0);
}
main().catch(fault => {
    console.log(fault.stack || fault);
    process.exit(1);
});
