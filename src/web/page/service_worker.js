// Keeps the page for use without a network, and takes pictures that other applications share.
'use strict';

const SHELF = 'alidade-/*KEY*/';
const FILES = ['./', 'manifest.webmanifest', 'icon.svg', 'icon-192.png', 'icon-512.png', 'icon-maskable.png'];

self.addEventListener('install', event => {
    event.waitUntil(caches.open(SHELF).then(shelf => shelf.addAll(FILES)).then(() => self.skipWaiting()));
});

self.addEventListener('activate', event => {
    event.waitUntil(caches.keys()
        .then(names => Promise.all(names.filter(name => name.startsWith('alidade-') && name !== SHELF).map(name => caches.delete(name))))
        .then(() => self.clients.claim()));
});

async function keepShared(request) {
    const pictures = (await request.formData()).getAll('pictures'), shelf = await caches.open('shared');
    for (const [i, picture] of pictures.entries()) {
        await shelf.put('shared/' + i + '/' + encodeURIComponent(picture.name || 'picture.jpg'), new Response(picture));
    }
    return Response.redirect('./?shared', 303);
}

self.addEventListener('fetch', event => {
    const { request } = event;
    if (request.method === 'POST') {
        event.respondWith(keepShared(request));
    } else {
        event.respondWith(caches.match(request, { ignoreSearch: true }).then(kept => kept || fetch(request)));
    }
});
