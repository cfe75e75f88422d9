// The page in a real browser (headless Chromium): from a disk and as an installed application, at
// three sizes, without a network, by keyboard; its answers against those of the program.
// usage: node page.js BUILD [FOLDER FOR PICTURES]
'use strict';
const { execFileSync, spawnSync } = require('child_process');
const fs = require('fs');
const http = require('http');
const os = require('os');
const path = require('path');
const { Browser } = require('./browser.js');

const [build, pictures] = process.argv.slice(2);
const sizes = [[390, 844], [844, 390], [1280, 800]];
const place = '50, 10', words = ['--place', '50.000,10.000', '--zone', '+00:00'];
const faults = [];
let checks = 0;

function check(right, text) {
    checks++;
    if (!right) {
        faults.push(text);
        console.log('WRONG ' + text);
    }
}

function render(name) {
    execFileSync(build + '/demo/render', ['--start', '2026-02-24T19:30:00', '--azimuth', '197.5', '--altitude', '31.5',
        '--focal', '200', '--pixel', '16', '--size', '900x600', '--out', name]);
    return name;
}

// All that the browser asks for, but for what is within the page.
function countRequests(browser) {
    const asked = [];
    browser.on((method, params) => {
        if (method === 'Network.requestWillBeSent' && !/^(blob|data):/.test(params.request.url)) {
            asked.push(params.request.url);
        }
    });
    return asked;
}

function countComplaints(browser) {
    browser.on((method, params) => {
        if (method === 'Runtime.exceptionThrown') {
            check(false, 'an exception in the page: ' + JSON.stringify(params.exceptionDetails).slice(0, 300));
        }
        if (method === 'Log.entryAdded' && params.entry.level === 'error') {
            check(false, 'the browser complains: ' + params.entry.text);
        }
    });
}

const shot = (browser, name) => pictures ? browser.picture(path.join(pictures, name + '.png')) : null;
const text = (browser, id) => browser.value(`$('${id}').hidden ? '' : $('${id}').textContent`);

async function give(browser, file) {
    await browser.value("show('answer', false)");
    await browser.give('#file', [file]);
    const ms = await browser.until("!$('answer').hidden && !Frame.busy");
    return ms;
}

async function checkFits(browser, what) {
    for (const [width, height] of sizes) {
        await browser.size(width, height);
        const wide = await browser.value('document.documentElement.scrollWidth');
        check(wide <= width, `${what}: ${wide} px wide on a screen of ${width}`);
        await shot(browser, `${what}-${width}x${height}`);
    }
    await browser.size(...sizes[0]);
}

async function checkFrame(browser, frame) {
    await browser.value(`$('place').value = '${place}', $('place').onchange()`);
    await browser.value("$('target').value = 'M 42', $('target').onchange()");
    const ms = await give(browser, frame);
    const said = JSON.parse(execFileSync(build + '/alidade', ['aim', '--json', '--target', 'M 42', ...words, frame]));
    const move = await browser.value(`moveText(${JSON.stringify(said)})`);
    check(await text(browser, 'move') === move, `the move is "${await text(browser, 'move')}", the program's "${move}"`);
    check(/^Pan [\d.]+° (left|right), tilt [\d.]+° (up|down)$/.test(move), `the move reads "${move}"`);
    const drawn = await browser.value("new TextDecoder().decode(Drawing.svg || new Uint8Array())");
    check(drawn.includes('<svg') && drawn.includes('NGC 1980'), 'the drawing names no NGC 1980');
    check(await browser.value("$('overlay').firstChild.decode().then(() => true)"), 'the drawing cannot be shown');
    const kept = await browser.value('Drawing.composed().then(blob => blob.size)');
    check(kept > 20000, `the marked picture has ${kept} bytes`);
    await checkFits(browser, 'frame');
    return ms;
}

// The picture was taken 200 s before it was given, by this device; its own clock is so much slow.
async function checkClock(browser, frame) {
    await browser.value("Frame.current.file.given = Date.parse(Frame.current.answer.mid_utc) + 200000, Frame.tell()");
    check(/^The camera's clock is 3 min slow/.test(await text(browser, 'clock')), `of the clock: "${await text(browser, 'clock')}"`);
    await browser.value("$('use-clock').click()");
    await browser.until("!Frame.busy");
    const said = JSON.parse(execFileSync(build + '/alidade', ['aim', '--json', '--target', 'M 42', ...words, '--clock-error', '-200', frame]));
    const move = await browser.value(`moveText(${JSON.stringify(said)})`);
    check(await text(browser, 'move') === move, `by this device's clock: "${await text(browser, 'move')}", the program's "${move}"`);
    check(await browser.value("$('clock').hidden && $('use-clock').hidden"), 'the clock is complained of after it was set right');
    await browser.value('Settings.clockError = 0');
}

// What is cancelled ends at once, and the next picture is answered.
async function checkCancel(browser, frame) {
    await browser.give('#file', [frame, frame, frame]);
    await browser.until("!$('cancel').hidden");
    await browser.value("$('cancel').click()");
    await browser.until("!Frame.busy", 20000);
    check(await text(browser, 'move') === 'Cancelled', `cancelled, the page says "${await text(browser, 'move')}"`);
    await give(browser, frame);
    check(/^Pan /.test(await text(browser, 'move')), `after cancelling: "${await text(browser, 'move')}"`);
}

async function checkHostile(browser, folder) {
    const files = { 'noise.jpg': Buffer.alloc(5000, 0x5a), 'cut.jpg': fs.readFileSync(path.join(folder, 'frame.jpg')).subarray(0, 4000),
        'empty.fits': Buffer.alloc(0), '<b>.png': Buffer.from('\x89PNG\r\n\x1a\n and no more', 'latin1') };
    for (const name in files) {
        fs.writeFileSync(path.join(folder, name), files[name]);
        await give(browser, path.join(folder, name));
        const said = await text(browser, 'move');
        check(said.length > 8 && !said.includes('undefined') && !said.includes('\n'), `${name}: the page says "${said}"`);
        check(await text(browser, 'named') === '', `${name}: what the picture before shows is still named`);
    }
}

async function checkTonight(browser) {
    await browser.value("document.querySelector('[data-view=tonight]').click(), $('focal').value = '135', $('date').value = '2026-12-10', $('plan-now').click()");
    await browser.until("$('targets').children.length > 0");
    const ours = JSON.parse(execFileSync(build + '/alidade', ['plan', '--json', ...words, '--focal', '135', '--date', '2026-12-10']));
    const first = await browser.value("$('targets').querySelector('b').textContent");
    check(first === ours.targets[0].name, `the first target is ${first}, the program's ${ours.targets[0].name}`);
    await browser.value("$('targets').querySelector('button').click()");
    await browser.until("!$('detail').hidden && $('full').textContent.length > 100");
    check(await browser.value("$('decided').textContent.includes('Exposure')"), 'the plan names no exposure');
    const card = await browser.value("Engine.run(['plan', '--target', 'M 31', '--card', '/c.pdf', '--date', '2026-12-10', '--focal', '135', '--place', '50,10', '--zone', '+00:00'], [], ['/c.pdf'])" +
        ".then(done => Array.from(done.kept['/c.pdf']))");
    fs.writeFileSync(path.join(os.tmpdir(), 'card.pdf'), Buffer.from(card));
    const read = spawnSync('pdftotext', [path.join(os.tmpdir(), 'card.pdf'), '-'], { encoding: 'utf8' });
    check(read.error || read.stdout.includes('Andromeda Galaxy'), 'the card does not name its target');
    await checkFits(browser, 'tonight');
}

async function checkLookUp(browser) {
    await browser.value("document.querySelector('[data-view=look-up]').click(), $('object').value = 'M 31', $('find').click()");
    await browser.until("$('chart').children.length > 0");
    check((await text(browser, 'object-says')).includes('Andromeda'), 'M 31 is not in Andromeda');
    // Names as one types, also of other languages (German, French), without their accents.
    for (const [typed, wanted, whose] of [['andr', 'Andromeda Galaxy', 'M 31'], ['krebsn', 'Krebsnebel', 'M 1'],
        ['nebuleuse de la ros', 'nébuleuse de la Rosette', 'NGC 2237'], ['ngc 70', 'NGC 7000', 'North America Nebula'], ['betelg', 'Betelgeuse', '']]) {
        await browser.value(`$('object').value = '${typed}', $('object').oninput()`);
        const found = await browser.until(`[...$('names').options].some(option => option.value === '${wanted}' && option.textContent === '${whose}')`, 60000)
            .catch(() => null);
        check(found !== null, `typing "${typed}" finds no ${wanted}`);
    }
    await checkFits(browser, 'look-up');
}

// Every control has a name, and the Tab key comes to it.
async function checkControls(browser) {
    const { nodes } = await browser.send('Accessibility.getFullAXTree');
    for (const node of nodes) {
        const role = node.role && node.role.value;
        if (['button', 'textbox', 'combobox', 'link', 'Date'].includes(role) && !node.ignored) {
            check(node.name && node.name.value, `a ${role} has no name`);
        }
    }
    await browser.send('Emulation.setFocusEmulationEnabled', { enabled: true });
    await browser.value("openView('settings'), document.activeElement.blur()");
    const seen = new Set();
    for (let i = 0; i < 60; i++) {
        await browser.send('Input.dispatchKeyEvent', { type: 'rawKeyDown', key: 'Tab', code: 'Tab', windowsVirtualKeyCode: 9 });
        await browser.send('Input.dispatchKeyEvent', { type: 'keyUp', key: 'Tab', code: 'Tab', windowsVirtualKeyCode: 9 });
        seen.add(await browser.value("document.activeElement.id || document.activeElement.dataset.view || document.activeElement.tagName"));
    }
    const wanted = await browser.value("[...document.querySelectorAll('button, input, select, textarea')].filter(e => e.offsetParent && !e.disabled).map(e => e.id || e.dataset.view)");
    check(seen.size > 3, 'the Tab key comes only to ' + [...seen]);
    wanted.filter(id => !seen.has(id)).forEach(id => check(false, `the Tab key does not come to ${id}`));
    check(wanted.length > 3, 'no controls are seen');
}

async function checkAxe(browser) {
    const script = path.join(build, 'web/axe/node_modules/axe-core/axe.min.js');
    if (!fs.existsSync(script)) {
        console.log('axe-core is not there: accessibility rules are not checked by it');
        return;
    }
    await browser.value(fs.readFileSync(script, 'utf8') + '; 0');
    for (const view of ['frame', 'tonight', 'look-up', 'settings']) {
        await browser.value(`openView('${view}')`);
        const found = await browser.value("axe.run().then(done => done.violations.map(v => v.id + ': ' + v.nodes.map(n => n.html.slice(0, 80)).join(' | ')))");
        found.forEach(violation => check(false, `axe, ${view}: ${violation}`));
        checks++;
    }
}

async function checkLargeText(browser) {
    await browser.value("document.documentElement.style.fontSize = '36px'");
    for (const view of ['frame', 'tonight', 'look-up', 'settings']) {
        await browser.value(`openView('${view}')`);
        const wide = await browser.value('document.documentElement.scrollWidth');
        check(wide <= sizes[0][0], `${view} with text of 200 % is ${wide} px wide`);
        await shot(browser, `large-${view}`);
    }
    await browser.value("document.documentElement.style.fontSize = ''");
}

async function fromDisk(folder) {
    const browser = await Browser.open();
    countComplaints(browser);
    const asked = countRequests(browser);
    await browser.size(...sizes[0]);
    await browser.go('file://' + path.resolve(build, 'web/alidade.html'));
    await browser.until("document.documentElement.dataset.ready", 300000);
    const ready = await browser.value('Number(document.documentElement.dataset.ready)');
    const frame = path.join(folder, 'frame.jpg');
    const ms = await checkFrame(browser, frame);
    await checkClock(browser, frame);
    await checkCancel(browser, frame);
    await checkHostile(browser, folder);
    await checkTonight(browser);
    await checkLookUp(browser);
    await checkControls(browser);
    await checkLargeText(browser);
    await checkAxe(browser);
    check(asked.length === 1, 'the page asked for ' + asked.slice(1).join(', '));
    const heap = await browser.value("Engine.run(['--version']).then(done => done.heap)");
    await browser.close();
    console.log(`from a disk: ready in ${ready} ms, a frame and its drawing in ${ms} ms, heap ${(heap / 1048576).toFixed(0)} MiB`);
}

function serve(folder) {
    const kinds = { '.html': 'text/html', '.js': 'text/javascript', '.svg': 'image/svg+xml', '.webmanifest': 'application/manifest+json' };
    const server = http.createServer((request, response) => {
        if (request.url === '/another-application') {
            response.writeHead(200, { 'Content-Type': 'text/html' }).end('<form method="post" enctype="multipart/form-data" action="share">' +
                '<input type="file" name="pictures" id="file"></form>');
            return;
        }
        const name = request.url.split('?')[0] === '/' ? 'index.html' : path.basename(request.url.split('?')[0]);
        const file = path.join(folder, name);
        if (!fs.existsSync(file)) {
            response.writeHead(404).end();
            return;
        }
        response.writeHead(200, { 'Content-Type': kinds[path.extname(name)] || 'application/octet-stream' });
        fs.createReadStream(file).pipe(response);
    });
    return new Promise(resolve => server.listen(0, '127.0.0.1', () => resolve(server)));
}

// A picture comes as the manifest's share_target says.
async function checkShare(browser, url, frame) {
    const manifest = JSON.parse(fs.readFileSync(path.join(build, 'web/app/manifest.webmanifest')));
    const icons = manifest.icons.filter(icon => icon.type === 'image/png').map(icon => fs.readFileSync(path.join(build, 'web/app', icon.src)));
    check(icons.length === 3 && icons.every(png => png.readUInt32BE(16) >= 192), 'the manifest names no icons of 192 px and more');
    const { installabilityErrors } = await browser.send('Page.getInstallabilityErrors');
    const errors = installabilityErrors.map(error => error.errorId).filter(id => id !== 'in-incognito');
    check(errors.length === 0, 'it cannot be installed: ' + errors);
    check(manifest.share_target.action === 'share' && manifest.share_target.params.files[0].name === 'pictures', 'the manifest takes no pictures');
    await browser.go(url + 'another-application');
    await browser.until("document.querySelector('form')");
    await browser.give('#file', [frame]);
    await browser.value("document.querySelector('form').submit()");
    await browser.until("typeof Frame === 'object' && document.documentElement.dataset.ready && Frame.current && !Frame.busy", 300000).catch(() => null);
    check((await text(browser, 'move').catch(() => '')).length > 5, 'a shared picture is not answered');
}

// Installed: kept by the service worker, started again with the server gone.
async function asApplication(folder) {
    const server = await serve(path.join(build, 'web/app'));
    const url = 'http://127.0.0.1:' + server.address().port + '/';
    const browser = await Browser.open();
    await browser.size(...sizes[0]);
    await browser.go(url);
    await browser.until("document.documentElement.dataset.ready", 300000);
    await browser.until("navigator.serviceWorker.controller", 120000);
    await checkShare(browser, url, path.join(folder, 'frame.jpg'));
    server.closeAllConnections();
    await new Promise(resolve => server.close(resolve));
    await browser.go('about:blank');
    const asked = countRequests(browser);
    await browser.go(url);
    await browser.until("document.documentElement.dataset.ready", 300000);
    const again = await browser.value('Number(document.documentElement.dataset.ready)');
    await give(browser, path.join(folder, 'frame.jpg'));
    check((await text(browser, 'move')).length > 5, 'without a server no answer comes');
    check(asked.every(one => one.startsWith(url)), 'asked elsewhere: ' + asked.filter(one => !one.startsWith(url)));
    await browser.close();
    console.log(`as an application, with the server gone: ready in ${again} ms`);
}

async function main() {
    const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'page-'));
    render(path.join(folder, 'frame.jpg'));
    try {
        await fromDisk(folder);
        await asApplication(folder);
    } finally {
        fs.rmSync(folder, { recursive: true, force: true });
    }
    console.log(`${checks} checks of the page, ${faults.length} wrong`);
    process.exit(faults.length > 0 ? 1 : 0);
}

main().catch(fault => {
    console.log(fault.stack || fault);
    process.exit(1);
});
