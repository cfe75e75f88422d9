// The page in headless Firefox, driven over its Marionette protocol (a socket with JSON): it opens
// from a disk, answers a frame as the program does, and complains of nothing.
// usage: node firefox.js BUILD [FOLDER FOR PICTURES]
'use strict';
const { execFileSync, spawn } = require('child_process');
const fs = require('fs');
const net = require('net');
const os = require('os');
const path = require('path');

const [build, pictures] = process.argv.slice(2);
const PATIENCE = 300000, START_PATIENCE = 90000;

// This machine's Firefox does not come up at all (no memory shared, no display, a confined account):
// nothing is learned about the page, so the check is skipped with the reason.
class NoBrowser extends Error {}

function freePort() {
    return new Promise(resolve => {
        const server = net.createServer().listen(0, '127.0.0.1', () => {
            const { port } = server.address();
            server.close(() => resolve(port));
        });
    });
}

class Firefox {
    static async open(folder) {
        const browser = new Firefox(), port = await freePort();
        fs.writeFileSync(path.join(folder, 'user.js'), `user_pref("marionette.port", ${port});\n` +
            'user_pref("datareporting.policy.dataSubmissionEnabled", false);\nuser_pref("app.update.enabled", false);\n');
        browser.process = spawn('firefox-esr', ['--headless', '--marionette', '--no-remote', '--profile', folder], {
            stdio: ['ignore', 'ignore', 'pipe'],
            env: { ...process.env, HOME: folder, XDG_CONFIG_HOME: folder, MOZ_HEADLESS: '1' }
        });
        let words = '', ended = false;
        browser.process.stderr.on('data', data => words = (words + data).slice(-4000));
        browser.process.on('exit', () => ended = true).on('error', () => ended = true);
        for (const start = Date.now(); !browser.socket;) {
            await new Promise(resolve => setTimeout(resolve, 200));
            browser.socket = await new Promise(resolve => {
                const socket = net.connect(port, '127.0.0.1', () => resolve(socket)).on('error', () => resolve(null));
            });
            if (!browser.socket && (ended || Date.now() - start > START_PATIENCE)) {
                browser.process.kill('SIGKILL');
                throw new NoBrowser(words.trim().split('\n').pop() || 'it says nothing');
            }
        }
        browser.waiting = new Map();
        browser.rest = Buffer.alloc(0);
        browser.socket.on('data', data => browser.take(data)).on('error', () => {});
        await browser.send('WebDriver:NewSession', { acceptInsecureCerts: false });
        await browser.send('WebDriver:SetTimeouts', { script: PATIENCE });
        return browser;
    }

    // Messages are "LENGTH:JSON"; an answer is [1, number, error, result].
    take(data) {
        this.rest = Buffer.concat([this.rest, data]);
        for (let colon; (colon = this.rest.indexOf(':')) > 0;) {
            const end = colon + 1 + Number(this.rest.subarray(0, colon));
            if (this.rest.length < end) {
                return;
            }
            const message = JSON.parse(this.rest.subarray(colon + 1, end));
            this.rest = this.rest.subarray(end);
            const waiting = Array.isArray(message) && this.waiting.get(message[1]);
            if (waiting) {
                this.waiting.delete(message[1]);
                message[2] ? waiting.reject(new Error(JSON.stringify(message[2]).slice(0, 400))) : waiting.resolve(message[3]);
            }
        }
    }

    send(command, params) {
        const number = this.waiting.size + (this.sent = (this.sent || 0) + 1000);
        const text = JSON.stringify([0, number, command, params]);
        this.socket.write(Buffer.byteLength(text) + ':' + text);
        return new Promise((resolve, reject) => this.waiting.set(number, { resolve, reject }));
    }

    // Elements of the page's own scripts (const) are reached through an element that they see.
    async value(expression) {
        const script = 'const [text, done] = arguments; const bridge = document.createElement("script");' +
            'window.addEventListener("bridged", event => done(event.detail), { once: true });' +
            'bridge.textContent = "Promise.resolve().then(() => (" + text + ")).then(value => [value], fault => [null, String(fault)])' +
            '.then(pair => window.dispatchEvent(new CustomEvent(\'bridged\', { detail: JSON.stringify(pair) })))"; document.body.append(bridge);';
        const { value } = await this.send('WebDriver:ExecuteAsyncScript', { script, args: [expression] });
        const [result, fault] = JSON.parse(value);
        if (fault) {
            throw new Error(expression + ': ' + fault);
        }
        return result;
    }

    async until(expression) {
        for (const start = Date.now(); !await this.value(expression);) {
            if (Date.now() - start > PATIENCE) {
                throw new Error('in vain: ' + expression);
            }
            await new Promise(resolve => setTimeout(resolve, 50));
        }
    }

    async give(selector, file) {
        const found = await this.send('WebDriver:FindElement', { using: 'css selector', value: selector });
        await this.send('WebDriver:ElementSendKeys', { id: Object.values(found.value)[0], text: file });
    }

    async picture(file) {
        const { value } = await this.send('WebDriver:TakeScreenshot', { full: false });
        fs.writeFileSync(file, Buffer.from(value, 'base64'));
    }

    async close() {
        const ended = new Promise(resolve => this.process.on('exit', resolve));
        this.send('Marionette:Quit', { flags: ['eForceQuit'] }).catch(() => {});
        await Promise.race([ended, new Promise(resolve => setTimeout(resolve, 5000))]);
        this.process.kill('SIGKILL');
        this.socket.destroy();
    }
}

async function main() {
    const folder = fs.mkdtempSync(path.join(os.tmpdir(), 'firefox-')), frame = path.join(folder, 'frame.jpg');
    let browser;
    execFileSync(build + '/demo/render', ['--start', '2026-02-24T19:30:00', '--azimuth', '197.5', '--altitude', '31.5',
        '--focal', '200', '--pixel', '16', '--size', '900x600', '--out', frame]);
    try {
        fs.mkdirSync(path.join(folder, 'profile'));
        browser = await Firefox.open(path.join(folder, 'profile'));
        await browser.send('WebDriver:Navigate', { url: 'file://' + path.resolve(build, 'web/alidade.html') });
        await browser.value("window.faults = [], window.addEventListener('error', event => faults.push(event.message))," +
            "window.addEventListener('unhandledrejection', event => faults.push(String(event.reason))), true");
        await browser.until("'ready' in document.documentElement.dataset");
        const ready = await browser.value('document.documentElement.dataset.ready');
        await browser.value("$('place').value = '50, 10', $('place').onchange(), $('target').value = 'M 42', Settings.keepValue('target', 'M 42'), true");
        await browser.give('#file', frame);
        await browser.until("!Frame.busy && Frame.current && !$('answer').hidden && !$('keep').hidden");
        const said = execFileSync(build + '/alidade', ['aim', '--json', '--target', 'M 42', '--place', '50.000,10.000', '--zone', '+00:00', frame]);
        const move = await browser.value(`moveText(${said})`), there = await browser.value("$('move').textContent");
        const named = await browser.value("new TextDecoder().decode(Drawing.svg).includes('NGC 1980')");
        const faults = await browser.value('faults');
        if (pictures) {
            await browser.picture(path.join(pictures, 'firefox.png'));
        }
        const right = there === move && named && faults.length === 0;
        console.log(`Firefox: ready in ${ready} ms, says "${there}"` + (right ? '' : `, the program "${move}"; ${faults}`));
        process.exitCode = right ? 0 : 1;
    } finally {
        if (browser) {
            await browser.close();
        }
        fs.rmSync(folder, { recursive: true, force: true, maxRetries: 10, retryDelay: 100 });
    }
}
main().catch(fault => {
    if (fault instanceof NoBrowser) {
        console.log('Firefox does not start here: ' + fault.message.slice(0, 200));
        process.exit(77);
    }
    console.log(String(fault.stack || fault).slice(0, 1000));
    process.exit(1);
});
