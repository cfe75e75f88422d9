// The names by which objects and stars are found, out of the engine's tables: "NAME\tID" a line, the
// best known first; ID is empty where the name is the usual one itself.
'use strict';

function* rowsOf(table) {
    const lines = table.split('\n').filter(line => line && !line.startsWith('#'));
    const columns = lines[0].split('\t');
    for (const line of lines.slice(1)) {
        const cells = line.split('\t');
        yield Object.fromEntries(columns.map((column, i) => [column, cells[i] || '']));
    }
}

function namesOf(read) {
    const ranks = [[], [], [], []];
    for (const row of rowsOf(read('objects.tsv'))) {
        const own = [row.common_name, row.usual_name].filter(Boolean);
        ranks[/^M \d/.test(row.id) ? 0 : 2].push([row.id, own[0] || '']);
        ranks[1].push(...[...new Set(own)].map(name => [name, row.id]));
        ranks[3].push(...row.other_names.split(';').filter(Boolean).map(name => [name, row.id]));
    }
    for (const row of rowsOf(read('star-names.tsv'))) {
        if (row.name) {
            ranks[1].push([row.name, '']);
        }
    }
    for (const row of rowsOf(read('names-abroad.tsv'))) {
        ranks[1].push([row.name, row.id]);
    }
    return ranks.flat().map(pair => pair.join('\t')).join('\n');
}

if (typeof module !== 'undefined') {
    module.exports = { namesOf };
}
