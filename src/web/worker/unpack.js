// What assemble/ packed into the page: parts as text of base64 and gzip.
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
