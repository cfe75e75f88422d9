// Starts the page and joins its parts.
'use strict';

function openView(name) {
    for (const view of document.querySelectorAll('main > section')) {
        view.hidden = view.id !== name;
    }
    for (const tab of document.querySelectorAll('nav button')) {
        tab.setAttribute('aria-current', tab.dataset.view === name ? 'page' : 'false');
    }
}

function listenToSettings() {
    $('rig').value = Settings.text();
    $('rig').onchange = () => Settings.keep($('rig').value);
    $('export').onclick = () => download('rig.ini', new Blob([$('rig').value], { type: 'text/plain' }));
    $('import').onchange = async () => {
        const file = $('import').files[0];
        if (file) {
            $('rig').value = await file.text();
            Settings.keep($('rig').value);
        }
    };
    $('locate').onclick = () => Settings.locate().then(
        place => $('place').value = place.latitude.toFixed(3) + ', ' + place.longitude.toFixed(3),
        fault => say('place-says', sentence(fault.message)));
    $('place').value = Settings.kept('place');
    Settings.typePlace($('place').value);
    $('place').onchange = () => {
        const typed = $('place').value.trim();
        say('place-says', !typed || Settings.typePlace(typed) ? '' : 'Expected latitude and longitude: 50.1, 10.2');
        Settings.keepValue('place', Settings.place ? typed : '');
    };
}

function listen() {
    for (const tab of document.querySelectorAll('nav button')) {
        tab.onclick = () => openView(tab.dataset.view);
    }
    Pictures.listen(files => {
        openView('frame');
        Frame.take(files);
    });
    $('cancel').onclick = () => Frame.cancel();
    $('use-clock').onclick = () => Frame.useClock();
    $('keep').onclick = () => Drawing.keep();
    $('plan-now').onclick = () => Tonight.plan();
    $('find').onclick = () => LookUp.find();
    $('object').onkeydown = event => event.key === 'Enter' && LookUp.find();
    NameSearch.listen('target');
    NameSearch.listen('object');
    $('target').value = Settings.kept('target');
    $('target').onchange = () => {
        Settings.keepValue('target', $('target').value.trim());
        Frame.again();
    };
    for (const id of ['layers', 'theme']) {
        $(id).onchange = () => Frame.current && Drawing.whole(Frame.current);
    }
    $('brightness').onclick = () => {
        document.documentElement.classList.toggle('dusk');
        $('brightness').textContent = document.documentElement.classList.contains('dusk') ? 'Night colours' : 'Dusk colours';
    };
}

// A picture that another application shared waits in the service worker's cache.
async function takeShared() {
    if (!('caches' in window) || !location.search.includes('shared')) {
        return;
    }
    const shelf = await caches.open('shared'), files = [];
    for (const request of await shelf.keys()) {
        const answer = await shelf.match(request);
        files.push(new File([await answer.blob()], decodeURIComponent(request.url.split('/').pop())));
        await shelf.delete(request);
    }
    history.replaceState(null, '', location.pathname);
    Frame.take(files);
}

// For starts without a network; afterwards, since it fetches the page once more.
function keepPage() {
    if ('serviceWorker' in navigator && location.protocol.startsWith('http') && document.querySelector('link[rel=manifest]')) {
        navigator.serviceWorker.register('service_worker.js');
    }
}

window.addEventListener('DOMContentLoaded', () => {
    listenToSettings();
    listen();
    openView('frame');
    Engine.start().then(ms => {
        say('progress', '');
        document.documentElement.dataset.ready = Math.round(ms);
        takeShared();
        keepPage();
    }, fault => say('progress', 'This browser cannot run it: ' + fault.message));
});
