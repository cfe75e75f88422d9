// Puts engine, stars, tables and the parts of the page into one file, and beside it the same as an
// application that can be installed.
// usage: node make_page.js BUILD CATALOGS VERSION    writes BUILD/alidade.html and BUILD/app/
'use strict';

const fs = require('fs');
const path = require('path');
const zlib = require('zlib');
const crypto = require('crypto');
const { spawnSync } = require('child_process');
const { drawIcon } = require('./draw_icon.js');
const { pack } = require('./pack_stars.js');

const [build, catalogs, version] = process.argv.slice(2);
const here = path.join(__dirname, '..');
const read = name => fs.readFileSync(path.join(here, name), 'utf8');

// Bytes as gzip, as text of base64. Zopfli takes a twentieth less room than zlib and a hundred times
// as long, so that what it made is kept.
function zipped(bytes) {
    const folder = path.join(build, 'packed'), name = crypto.createHash('sha256').update(bytes).digest('hex').slice(0, 24);
    const plain = path.join(folder, name), packed = plain + '.gz';
    if (!fs.existsSync(packed)) {
        fs.mkdirSync(folder, { recursive: true });
        fs.writeFileSync(plain, bytes);
        const done = spawnSync('zopfli', ['-c', plain], { maxBuffer: 1 << 28 });
        fs.writeFileSync(packed + '.part', done.status === 0 ? done.stdout : zlib.gzipSync(bytes, { level: 9 }));
        fs.renameSync(packed + '.part', packed);
        fs.unlinkSync(plain);
    }
    return fs.readFileSync(packed).toString('base64');
}

const PAGE = ['words', 'engine_call', 'settings', 'pictures', 'frame', 'frame_drawing', 'name_search', 'tonight', 'start'];
const REPORT = ['words', 'engine_call', 'report'];
const WORKER = ['unpack', 'index_store', 'index_build', 'warm_up', 'names', 'worker'];

// Tables that commands read: the stars become the index, some others have gone into objects.tsv.
const NOT_READ = ['stars.tsv', 'supplement.tsv', 'usual-names.tsv', 'caldwell.tsv'];
function tables() {
    const names = fs.readdirSync(catalogs).filter(name => name.endsWith('.tsv') && !NOT_READ.includes(name)).sort();
    return Object.fromEntries(names.map(name => [name, fs.readFileSync(path.join(catalogs, name))]));
}

function credits() {
    const libraries = read('libraries/sources.tsv').split('\n').filter(line => line && !line.startsWith('#'));
    return '<p>Within this page: ' + libraries.map(line => line.split('\t')[1]).join(', ') +
        ', each under its own free licence; objects and outlines CC-BY-SA-4.0; stars BSD-3-Clause; the rest as in LICENSE.</p>';
}

function fill(template, parts) {
    for (const [mark, text] of Object.entries(parts)) {
        template = template.split(mark).join(text);
    }
    return template;
}

// Text within a script element must not end it.
const inScript = text => text.replace(/<\/(script)/gi, '<\\/$1').replace(/<!--/g, '<\\!--');

function main() {
    const engine = fs.readFileSync(path.join(build, 'engine.wasm'));
    const stars = pack(fs.readFileSync(path.join(catalogs, 'stars.tsv'), 'utf8'));
    const bytes = tables();
    const key = crypto.createHash('sha256').update(engine).update(stars).digest('hex').slice(0, 16);
    const parts = {
        key,
        engine: zipped(engine),
        stars: zipped(stars),
        warmUp: fs.readFileSync(path.join(here, 'worker/warm_up.jpg')).toString('base64'),
        tables: Object.fromEntries(Object.entries(bytes).map(([name, table]) => [name, zipped(table)])),
    };
    const worker = fs.readFileSync(path.join(build, 'engine.js'), 'utf8') + '\n' +
        WORKER.map(name => '{}\n' + read('worker/' + name + '.js').replace("'use strict';\n", '')).join('\n');
    const joined = names => "'use strict';\n" + names.map(name => read('page/' + name + '.js').replace("'use strict';\n", '')).join('\n');
    const page = head => fill(read('page/alidade.html'), {
        '<!--HEAD-->': head,
        '<!--VERSION-->': version,
        '<!--CREDITS-->': credits(),
        '/*STYLE*/': read('page/alidade.css'),
        '/*SCRIPT*/': inScript(joined(PAGE)),
        '/*REPORT*/': inScript(joined(REPORT)),
        '/*ENGINE*/': inScript(worker),
        '/*PARTS*/': JSON.stringify(parts),
    });
    const app = path.join(build, 'app');
    fs.mkdirSync(app, { recursive: true });
    fs.writeFileSync(path.join(build, 'alidade.html'), page(''));
    fs.writeFileSync(path.join(app, 'index.html'), page('<link rel="manifest" href="manifest.webmanifest">' +
        '<link rel="icon" href="icon.svg"><link rel="apple-touch-icon" href="icon-192.png">')
        .replace("img-src data: blob:", "img-src data: blob: 'self'"));
    for (const name of ['manifest.webmanifest', 'icon.svg']) {
        fs.copyFileSync(path.join(here, 'page', name), path.join(app, name));
    }
    fs.writeFileSync(path.join(app, 'icon-192.png'), drawIcon(192));
    fs.writeFileSync(path.join(app, 'icon-512.png'), drawIcon(512));
    fs.writeFileSync(path.join(app, 'icon-maskable.png'), drawIcon(512, true));
    fs.writeFileSync(path.join(app, 'service_worker.js'), read('page/service_worker.js').replace('/*KEY*/', key));
    const size = fs.statSync(path.join(build, 'alidade.html')).size;
    const packed = zlib.gzipSync(fs.readFileSync(path.join(build, 'alidade.html')), { level: 9 }).length;
    console.log('  page     %s: %s MB, %s MB compressed', path.join(build, 'alidade.html'), (size / 1e6).toFixed(2), (packed / 1e6).toFixed(2));
}

main();
