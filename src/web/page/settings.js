// The settings file of the programs (rig.ini), as text in the browser's storage, and the place and
// clock of this device.
'use strict';

const Settings = {
    place: null, // {latitude, longitude} of this device
    clockError: 0, // seconds by which the camera's clock is fast, by this device's

    text() {
        try {
            return localStorage.getItem('rig') || '';
        } catch (fault) {
            return this.unkept || '';
        }
    },

    keep(text) {
        this.unkept = text;
        try {
            localStorage.setItem('rig', text);
        } catch (fault) {
            // kept until the page is closed
        }
    },

    kept(name) {
        try {
            return localStorage.getItem(name) || '';
        } catch (fault) {
            return '';
        }
    },

    keepValue(name, value) {
        try {
            localStorage.setItem(name, value);
        } catch (fault) {
            // kept until the page is closed
        }
    },

    // "+01:00" as this device's clock stands to UTC at a moment.
    zone(moment = new Date()) {
        const ahead = -moment.getTimezoneOffset();
        const two = value => String(Math.floor(value)).padStart(2, '0');
        return (ahead < 0 ? '-' : '+') + two(Math.abs(ahead) / 60) + ':' + two(Math.abs(ahead) % 60);
    },

    // Words and files for a command line: the rig, the place, the zone.
    words({ where = true, zone = true, clock = false } = {}) {
        const words = [], files = [];
        const text = this.text().trim();
        if (text) {
            files.push(['/rig.ini', new TextEncoder().encode(text + '\n')]);
            words.push('--rig', '/rig.ini');
        }
        if (where && this.place) {
            words.push('--place', this.place.latitude.toFixed(3) + ',' + this.place.longitude.toFixed(3));
        }
        if (zone && (this.place || !/^\s*zone\s*=/m.test(text))) {
            words.push('--zone', this.zone());
        }
        if (clock && this.clockError) {
            words.push('--clock-error', this.clockError.toFixed(1));
        }
        return { words, files };
    },

    knowsPlace() {
        return Boolean(this.place) || /^\s*\[place/m.test(this.text());
    },

    locate() {
        return new Promise((resolve, reject) => {
            if (!navigator.geolocation) {
                reject(new Error('this browser knows no place'));
                return;
            }
            navigator.geolocation.getCurrentPosition(found => {
                this.place = found.coords;
                resolve(this.place);
            }, () => reject(new Error('no place was given: type it, or allow it in the browser')),
            { maximumAge: 600000, timeout: 15000 });
        });
    },

    // "50.1,10.2" as typed; false if it is none.
    typePlace(text) {
        const parts = text.split(/[,;\s]+/).map(Number);
        const good = parts.length === 2 && Math.abs(parts[0]) <= 90 && Math.abs(parts[1]) <= 180;
        this.place = good ? { latitude: parts[0], longitude: parts[1] } : null;
        return good;
    },
};
