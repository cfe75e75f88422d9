// What assemble/ packed into the page: parts as text of base64 and gzip, stars as planes of bytes.
'use strict';

async function inflate(text) {
    const packed = Uint8Array.from(atob(text), letter => letter.charCodeAt(0));
    const stream = new Blob([packed]).stream().pipeThrough(new DecompressionStream('gzip'));
    return new Uint8Array(await new Response(stream).arrayBuffer());
}

// The table that assemble/pack_stars.js packed, letter by letter.
function starTable(packed) {
    const view = new DataView(packed.buffer, packed.byteOffset);
    const count = view.getUint32(0, true), headLength = view.getUint32(4, true);
    const head = new TextDecoder().decode(packed.subarray(8, 8 + headLength));
    let at = 8 + headLength;
    const plane = bytes => {
        const start = at;
        at += bytes * count;
        return i => {
            let value = 0;
            for (let k = bytes - 1; k >= 0; k--) {
                value = value * 256 + packed[start + k * count + i];
            }
            return value;
        };
    };
    const hipStep = plane(2), raStep = plane(3), decOf = plane(3), magOf = plane(2), colourOf = plane(2);
    const unfold = value => value % 2 ? -(value + 1) / 2 : value / 2;
    const rows = [];
    for (let i = 0, hip = 0, ra = 0; i < count; i++) {
        hip += hipStep(i);
        ra += unfold(raStep(i));
        const colour = colourOf(i) << 16 >> 16;
        rows.push(hip + '\t' + (ra / 1e4).toFixed(4) + '\t' + ((decOf(i) - 900000) / 1e4).toFixed(4) + '\t' +
            ((magOf(i) - 2000) / 100).toFixed(2) + '\t' + (colour === -32768 ? '' : (colour / 1000).toFixed(3)));
    }
    return head + rows.join('\n') + '\n';
}

if (typeof module !== 'undefined') {
    module.exports = { starTable };
}
