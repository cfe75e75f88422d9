// A headless Chromium driven over its own protocol (DevTools, by a pipe): no package is needed but
// Chromium and node.
'use strict';
const { spawn, spawnSync } = require('child_process');
const fs = require('fs');
const os = require('os');
const path = require('path');

function program() {
    return ['chromium', 'chromium-browser'].find(name => spawnSync(name, ['--version']).status === 0);
}

class Browser {
    static async open() {
        const browser = new Browser();
        browser.folder = fs.mkdtempSync(path.join(os.tmpdir(), 'browser-'));
        browser.process = spawn(program(), ['--headless', '--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run',
            '--disable-background-networking', '--disable-component-update', '--disable-sync', '--hide-scrollbars',
            '--remote-debugging-pipe', '--user-data-dir=' + browser.folder, 'about:blank'],
        { stdio: ['ignore', 'ignore', 'ignore', 'pipe', 'pipe'], detached: true });
        browser.waiting = new Map();
        browser.listeners = [];
        browser.next = 1;
        let rest = '';
        browser.process.stdio[4].setEncoding('utf8').on('data', text => {
            const messages = (rest + text).split('\0');
            rest = messages.pop();
            messages.forEach(message => browser.take(JSON.parse(message)));
        });
        const { targetInfos } = await browser.send('Target.getTargets');
        const target = targetInfos.find(info => info.type === 'page');
        browser.session = (await browser.send('Target.attachToTarget', { targetId: target.targetId, flatten: true })).sessionId;
        for (const domain of ['Page', 'Runtime', 'Network', 'Log']) {
            await browser.send(domain + '.enable');
        }
        return browser;
    }

    take(message) {
        const waiting = this.waiting.get(message.id);
        if (waiting) {
            this.waiting.delete(message.id);
            message.error ? waiting.reject(new Error(JSON.stringify(message.error))) : waiting.resolve(message.result);
        }
        this.listeners.forEach(listener => message.method && listener(message.method, message.params));
    }

    send(method, params = {}, session = this.session) {
        const id = this.next++, message = { id, method, params };
        if (session) {
            message.sessionId = session;
        }
        this.process.stdio[3].write(JSON.stringify(message) + '\0');
        return new Promise((resolve, reject) => this.waiting.set(id, { resolve, reject }));
    }

    on(listener) {
        this.listeners.push(listener);
    }

    async size(width, height, scale = 1) {
        await this.send('Emulation.setDeviceMetricsOverride', { width, height, deviceScaleFactor: scale, mobile: width < 900 });
    }

    async go(url) {
        await this.send('Page.navigate', { url });
    }

    async value(expression) {
        const done = await this.send('Runtime.evaluate', { expression, awaitPromise: true, returnByValue: true, userGesture: true });
        if (done.exceptionDetails) {
            throw new Error(expression + ': ' + JSON.stringify(done.exceptionDetails.exception.description || done.exceptionDetails));
        }
        return done.result.value;
    }

    // Waits until an expression is true; the milliseconds that took.
    async until(expression, patience = 180000) {
        const start = Date.now();
        while (!await this.value(expression).catch(() => false)) {
            if (Date.now() - start > patience) {
                throw new Error('in vain, for ' + patience + ' ms: ' + expression);
            }
            await new Promise(resolve => setTimeout(resolve, 25));
        }
        return Date.now() - start;
    }

    async give(selector, files) {
        const { root } = await this.send('DOM.getDocument');
        const { nodeId } = await this.send('DOM.querySelector', { nodeId: root.nodeId, selector });
        await this.send('DOM.setFileInputFiles', { nodeId, files });
    }

    async picture(file) {
        const { data } = await this.send('Page.captureScreenshot', { format: 'png' });
        fs.writeFileSync(file, Buffer.from(data, 'base64'));
    }

    // Lets the whole browser, its workers too (which its own way of slowing down leaves out), run for
    // 1/rate of the time. Ends with it.
    slowDown(rate) {
        const period = 24, send = signal => {
            try {
                process.kill(-this.process.pid, signal);
            } catch (fault) {
                clearInterval(this.slowing); // it has ended
            }
        };
        this.slowing = setInterval(() => {
            send('SIGCONT');
            setTimeout(() => this.slowing && send('SIGSTOP'), period / rate);
        }, period);
    }

    async close() {
        clearInterval(this.slowing);
        this.slowing = null;
        process.kill(-this.process.pid, 'SIGCONT');
        const ended = new Promise(resolve => this.process.on('exit', resolve));
        this.send('Browser.close').catch(() => {}); // its own children end with it
        await ended;
        fs.rmSync(this.folder, { recursive: true, force: true, maxRetries: 10, retryDelay: 100 });
    }
}

module.exports = { Browser, program };
