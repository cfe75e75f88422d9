// The page's icon as PNG, for systems that take no SVG: the shapes of page/icon.svg, measured out
// point by point.
'use strict';

const zlib = require('zlib');

const GROUND = [13, 2, 2], INK = [255, 122, 99], UNIT = 512;

// Distances in the units of the SVG, negative inside.
const disc = (x, y, cx, cy, r) => Math.hypot(x - cx, y - cy) - r;
function box(x, y, corner) {
    const over = [x, y].map(value => Math.abs(value - UNIT / 2) - UNIT / 2 + corner);
    return Math.hypot(...over.map(value => Math.max(value, 0))) + Math.min(Math.max(...over), 0) - corner;
}
function stroke(x, y, from, to, width) {
    const along = [to[0] - from[0], to[1] - from[1]];
    const part = ((x - from[0]) * along[0] + (y - from[1]) * along[1]) / (along[0] ** 2 + along[1] ** 2);
    const at = Math.min(1, Math.max(0, part));
    return disc(x, y, from[0] + at * along[0], from[1] + at * along[1], width / 2);
}

// "A 224 224 0 0 1" from (96, 376) to (416, 376): the shorter way, over the top.
function arc(x, y) {
    const centre = [256, 376 + Math.sqrt(224 ** 2 - 160 ** 2)], half = Math.asin(160 / 224);
    return Math.abs(Math.atan2(x - centre[0], centre[1] - y)) < half ? Math.abs(disc(x, y, ...centre, 224)) - 13
        : Math.min(disc(x, y, 96, 376, 13), disc(x, y, 416, 376, 13));
}

const shape = (x, y) => Math.min(arc(x, y), stroke(x, y, [256, 376], [372, 136], 26), disc(x, y, 386, 108, 26), disc(x, y, 256, 376, 30));

// margin: share of the icon's side that is ground around the drawing; corner: its radius.
function pixels(size, margin, corner) {
    const rows = Buffer.alloc(size * (1 + 4 * size)), scale = UNIT / size;
    const cover = distance => Math.min(1, Math.max(0, 0.5 - distance / scale));
    for (let j = 0; j < size; j++) {
        for (let i = 0; i < size; i++) {
            const x = (i + 0.5) * scale, y = (j + 0.5) * scale, grow = 1 / (1 - 2 * margin);
            const ink = cover(shape((x - UNIT / 2) * grow + UNIT / 2, (y - UNIT / 2) * grow + UNIT / 2) / grow);
            const colour = GROUND.map((value, k) => Math.round(value + ink * (INK[k] - value)));
            rows.set([...colour, Math.round(255 * cover(box(x, y, corner)))], j * (1 + 4 * size) + 1 + 4 * i);
        }
    }
    return rows;
}

const crcTable = Array.from({ length: 256 }, (_, n) => {
    for (let k = 0; k < 8; k++) {
        n = n & 1 ? 0xedb88320 ^ n >>> 1 : n >>> 1;
    }
    return n >>> 0;
});

function chunk(kind, data) {
    const body = Buffer.concat([Buffer.from(kind, 'latin1'), data]), out = Buffer.alloc(body.length + 8);
    out.writeUInt32BE(data.length, 0);
    body.copy(out, 4);
    out.writeUInt32BE((body.reduce((crc, byte) => crcTable[(crc ^ byte) & 255] ^ crc >>> 8, 0xffffffff) ^ 0xffffffff) >>> 0, body.length + 4);
    return out;
}

// A maskable icon is cut to any shape by the system: it fills the square and keeps to its middle.
function drawIcon(size, maskable = false) {
    const head = Buffer.alloc(13);
    head.writeUInt32BE(size, 0);
    head.writeUInt32BE(size, 4);
    head.set([8, 6], 8); // bits, red green blue and alpha
    return Buffer.concat([Buffer.from('\x89PNG\r\n\x1a\n', 'latin1'), chunk('IHDR', head),
        chunk('IDAT', zlib.deflateSync(pixels(size, maskable ? 0.12 : 0, maskable ? 0 : 96), { level: 9 })), chunk('IEND', Buffer.alloc(0))]);
}

module.exports = { drawIcon };
