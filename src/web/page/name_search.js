// The search for a name as one types: all names of objects and stars, those of other languages
// included, without regard to accents. They are asked of the engine when they are first needed.
'use strict';

const NameSearch = {
    most: 30,

    // [name, whose it is, as it is compared]
    load() {
        this.loading = this.loading || Engine.names().then(lines => lines.split('\n').map(line => {
            const [name, of] = line.split('\t');
            return [name, of, this.folded(name)];
        }));
        return this.loading;
    },

    folded: text => text.normalize('NFD').replace(/\p{M}/gu, '').toLowerCase().replace(/\s+/g, ' ').trim(),

    // Names that begin so, then those with a word that does, then those that have it elsewhere.
    find(names, typed) {
        const wanted = this.folded(typed), ranks = [[], [], []];
        if (wanted.length < 2) {
            return [];
        }
        for (const row of names) {
            const at = row[2].indexOf(wanted);
            if (at >= 0) {
                ranks[at === 0 ? 0 : row[2].includes(' ' + wanted) ? 1 : 2].push(row);
            }
        }
        return ranks.flat().slice(0, this.most);
    },

    async suggest(field) {
        const names = await this.load();
        $('names').replaceChildren(...this.find(names, field.value).map(([name, of]) =>
            Object.assign(make('option', '', of), { value: name })));
    },

    listen(id) {
        $(id).onfocus = () => this.load();
        $(id).oninput = () => this.suggest($(id));
    },
};
