// Small helpers of all parts of the page.
'use strict';

const $ = id => document.getElementById(id);

// An element with its class and text; text is never read as markup.
function make(tag, kind = '', text = '') {
    const element = document.createElement(tag);
    element.className = kind;
    element.textContent = text;
    return element;
}

function show(id, shown = true) {
    $(id).hidden = !shown;
}

const degrees = value => {
    const size = Math.abs(value);
    return size.toFixed(size < 1 ? 2 : 1) + '°';
};

// "14:05" on this device's clock.
const clock = utc => new Date(utc).toLocaleTimeString([], { hour: '2-digit', minute: '2-digit', hour12: false });

const minutes = seconds => seconds < 90 ? Math.round(seconds) + ' s' : Math.round(seconds / 60) + ' min';

// "1 h 03 min"
const hours = seconds => {
    const all = Math.round(seconds / 60);
    return Math.floor(all / 60) + ' h' + (all % 60 ? ' ' + String(all % 60).padStart(2, '0') + ' min' : '');
};

// First sentence of what the engine complains about, without the program's name.
function complaint(done) {
    const text = (done.complaints || '').split('\n')[0].replace(/^alidade( \w+)?: /, '').replace(/^\/in\/[^:]*: /, '');
    return text ? text[0].toUpperCase() + text.slice(1) : 'It cannot be read';
}

function download(name, blob) {
    const link = make('a');
    link.href = URL.createObjectURL(blob);
    link.download = name;
    link.click();
    setTimeout(() => URL.revokeObjectURL(link.href), 60000);
}
