// Pictures that the photographer gives, by file, drop, paste, camera or another application's share,
// and what of them the browser can show.
'use strict';

const Pictures = {
    // Bytes of the longest JPEG within a raw file, or null: its preview.
    preview(bytes) {
        let best = null;
        for (let at = 0; (at = bytes.indexOf(0xff, at)) >= 0; at++) {
            if (bytes[at + 1] !== 0xd8 || bytes[at + 2] !== 0xff) {
                continue;
            }
            let end = at + 2;
            do {
                end = bytes.indexOf(0xff, end + 1);
            } while (end > 0 && bytes[end + 1] !== 0xd9);
            const length = (end < 0 ? bytes.length : end + 2) - at;
            if (!best || length > best.length) {
                best = bytes.subarray(at, at + length);
            }
            at += Math.max(1, length - 2);
        }
        return best && best.length > 10000 ? best : null;
    },

    // A bitmap to put under the drawing, at most 2048 px wide, or null if the browser knows none.
    async shown(file, bytes) {
        const width = { resizeWidth: 1600, imageOrientation: 'none' };
        for (const blob of [file, this.preview(bytes)]) {
            try {
                return blob ? await createImageBitmap(blob instanceof Blob ? blob : new Blob([blob]), width) : null;
            } catch (fault) {
                // the next
            }
        }
        return null;
    },

    // Calls take(files) for whatever is given to the page.
    listen(take) {
        for (const id of ['file', 'camera']) {
            $(id).onchange = () => {
                take([...$(id).files]);
                $(id).value = '';
            };
        }
        document.ondragover = event => event.preventDefault();
        document.ondrop = event => {
            event.preventDefault();
            take([...event.dataTransfer.files]);
        };
        document.onpaste = event => {
            const files = [...event.clipboardData.files];
            if (files.length) {
                take(files);
            }
        };
    },
};
