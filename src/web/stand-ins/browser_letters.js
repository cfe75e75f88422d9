// What the browser knows of letters, for letters.c and capitals.c: linked into the engine.
mergeInto(LibraryManager.library, {
    // Width of text, and how far its ink reaches left, right, up and down of its beginning, for a
    // type of size 100. Where nothing can measure, letters are taken to be 0.6 of their size wide.
    measure_letters: function (text, strong, to) {
        const words = UTF8ToString(text);
        let box = {
            width: 60 * words.length, actualBoundingBoxLeft: 0, actualBoundingBoxRight: 60 * words.length,
            actualBoundingBoxAscent: 73, actualBoundingBoxDescent: 0,
        };
        if (typeof OffscreenCanvas !== 'undefined') {
            const pen = Module.lettersPen || (Module.lettersPen = new OffscreenCanvas(1, 1).getContext('2d'));
            pen.font = (strong ? 'bold ' : '') + '100px "DejaVu Sans", Verdana, Roboto, sans-serif';
            box = pen.measureText(words);
        }
        HEAPF64.set([box.width, box.actualBoundingBoxLeft, box.actualBoundingBoxRight,
            box.actualBoundingBoxAscent, box.actualBoundingBoxDescent], to >> 3);
    },

    // The text in capitals, to be freed by the caller; 0 if memory is short.
    capitals_of: function (text) {
        const capitals = UTF8ToString(text).toUpperCase(), room = lengthBytesUTF8(capitals) + 1;
        const to = _malloc(room);
        if (to) {
            stringToUTF8(capitals, to, room);
        }
        return to;
    },
});
