// Stars of a table (hip, ra_deg, dec_deg, v_mag, b_v) as planes of bytes, which compress to a sixth
// of the text; engine/packed_stars.c reads the same stars out of them.
'use strict';

const NO_COLOUR = -32768;

// Text of a decimal number as a whole number of units of 10^-places; throws where that is not exact.
function scaled(text, places) {
    const negative = text.startsWith('-');
    const [whole, part = ''] = text.replace('-', '').split('.');
    if (part.length > places) {
        throw new Error(text + ': expected at most ' + places + ' decimals');
    }
    const value = Number(whole) * 10 ** places + Number((part + '000000').slice(0, places));
    return negative ? -value : value;
}

const folded = value => value >= 0 ? 2 * value : -2 * value - 1;

function planes(values, bytes) {
    const out = Buffer.alloc(values.length * bytes);
    for (let k = 0; k < bytes; k++) {
        values.forEach((value, i) => out[k * values.length + i] = Math.floor(value / 256 ** k) & 255);
    }
    return out;
}

const steps = values => values.map((value, i) => value - (i ? values[i - 1] : 0));

function pack(table) {
    const lines = table.split('\n').filter(Boolean);
    const rows = lines.filter(line => /^\d/.test(line)).map(line => line.split('\t'));
    const hip = steps(rows.map(row => Number(row[0])));
    const ra = steps(rows.map(row => scaled(row[1], 4))).map(folded);
    const dec = rows.map(row => scaled(row[2], 4) + 900000);
    const mag = rows.map(row => scaled(row[3], 2) + 2000);
    const colour = rows.map(row => (row[4] ? scaled(row[4], 3) : NO_COLOUR) + 65536 & 65535);
    if (Math.max(...hip.slice(1)) > 65535 || Math.min(...hip) < 0) {
        throw new Error('numbers of stars must rise by less than 65536');
    }
    const start = Buffer.alloc(12, 'STARS 1\n', 'latin1');
    start.writeUInt32LE(rows.length, 8);
    return Buffer.concat([start, planes(hip, 2), planes(ra, 3), planes(dec, 3), planes(mag, 2), planes(colour, 2)]);
}

module.exports = { pack };
