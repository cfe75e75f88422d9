// What assemble/ packed into the page: parts as text of base64 and gzip, stars as planes of bytes.
'use strict';

function fromBase64(text) {
    const letters = atob(text), bytes = new Uint8Array(letters.length);
    for (let i = 0; i < bytes.length; i++) {
        bytes[i] = letters.charCodeAt(i);
    }
    return bytes;
}

const inflating = text => new Blob([fromBase64(text)]).stream().pipeThrough(new DecompressionStream('gzip'));
const inflate = async text => new Uint8Array(await new Response(inflating(text)).arrayBuffer());

// Writes whole numbers of units of 10^-places as decimals, one behind the other.
class DecimalWriter {
    constructor(room) {
        this.bytes = new Uint8Array(room);
        this.at = 0;
    }

    letter(code) {
        this.bytes[this.at++] = code;
    }

    number(value, places) {
        let size = Math.abs(value), digits = places + 1;
        if (value < 0) {
            this.letter(45);
        }
        for (let limit = 10 ** digits; size >= limit; limit *= 10) {
            digits++;
        }
        this.at += digits + (places > 0);
        for (let i = 1; i <= digits + (places > 0); i++) {
            if (i === places + 1 && places > 0) {
                this.bytes[this.at - i] = 46;
                continue;
            }
            const rest = size / 10 | 0;
            this.bytes[this.at - i] = 48 + size - 10 * rest;
            size = rest;
        }
    }
}

// The table that assemble/pack_stars.js packed, letter by letter, as UTF-8.
function starTable(packed) {
    const view = new DataView(packed.buffer, packed.byteOffset);
    const count = view.getUint32(0, true), headLength = view.getUint32(4, true);
    let at = 8 + headLength;
    const plane = bytes => {
        const start = at;
        at += bytes * count;
        return i => packed[start + i] + 256 * packed[start + count + i] + (bytes > 2 ? 65536 * packed[start + 2 * count + i] : 0);
    };
    const hipStep = plane(2), raStep = plane(3), decOf = plane(3), magOf = plane(2), colourOf = plane(2);
    const unfold = value => value % 2 ? -(value + 1) / 2 : value / 2;
    const table = new DecimalWriter(headLength + 48 * count);
    const TAB = 9, NEWLINE = 10;
    table.bytes.set(packed.subarray(8, 8 + headLength));
    table.at = headLength;
    for (let i = 0, hip = 0, ra = 0; i < count; i++) {
        hip += hipStep(i);
        ra += unfold(raStep(i));
        table.number(hip, 0);
        table.letter(TAB);
        table.number(ra, 4);
        table.letter(TAB);
        table.number(decOf(i) - 900000, 4);
        table.letter(TAB);
        table.number(magOf(i) - 2000, 2);
        table.letter(TAB);
        const colour = colourOf(i) << 16 >> 16;
        if (colour !== -32768) {
            table.number(colour, 3);
        }
        table.letter(NEWLINE);
    }
    return table.bytes.subarray(0, table.at);
}

if (typeof module !== 'undefined') {
    module.exports = { starTable };
}
