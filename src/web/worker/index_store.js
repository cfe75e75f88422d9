// The index of stars, built once and kept by the browser. Where a browser keeps nothing (a page
// opened from a disk, a private window), it is built at each start.
'use strict';

const INDEX_FILE = '/data/hipparcos.alidx';

function openStore() {
    return new Promise((resolve, reject) => {
        const asked = indexedDB.open('alidade', 1);
        asked.onupgradeneeded = () => asked.result.createObjectStore('index');
        asked.onsuccess = () => resolve(asked.result);
        asked.onerror = asked.onblocked = () => reject(asked.error);
    });
}

function inStore(store, mode, work) {
    return new Promise((resolve, reject) => {
        const deal = store.transaction('index', mode), asked = work(deal.objectStore('index'));
        deal.oncomplete = () => resolve(asked.result);
        deal.onerror = deal.onabort = () => reject(deal.error);
    });
}

// The bytes kept under a key, or null.
async function keptIndex(key) {
    try {
        return await inStore(await openStore(), 'readonly', shelf => shelf.get(key)) || null;
    } catch (fault) {
        return null;
    }
}

async function keepIndex(key, bytes) {
    try {
        await inStore(await openStore(), 'readwrite', shelf => {
            shelf.clear(); // one of an older page
            return shelf.put(bytes, key);
        });
    } catch (fault) {
        // it is built again next time
    }
}
