// The report of a night judges itself anew: with another target or other limits, and with one more
// frame. `review --with-engine` puts this, the engine and the lines of the frames into the report.
'use strict';

const Report = {
    fields: {
        target: 'Target', 'in-frame': 'Less of the target in the frame, %', stars: 'Fewer stars, %',
        width: 'Wider stars, %', length: 'Longer stars, %', sky: 'Brighter sky, %',
    },
    lines: $('night-lines').textContent.trim().split('\n'),
    pictures: new Map(), // by the frame's name: one that is not shown now may be shown again
    wish: Object.fromEntries($('night-wish').textContent.trim().split('\n').map(line => line.split('\t'))),

    field(key) {
        const row = make('p'), label = make('label', '', this.fields[key] + ' '), input = make('input');
        input.id = 'wish-' + key;
        input.value = this.wish[key] || '';
        input.onchange = () => this.judge();
        label.append(input);
        row.append(label);
        return row;
    },

    show() {
        const place = $('once-more'), limits = make('details'), files = make('input');
        files.type = 'file';
        files.multiple = true;
        files.onchange = () => this.add([...files.files]);
        const given = make('label', '', 'One more frame ');
        given.append(files);
        const said = make('p', 'soft');
        said.id = 'progress';
        said.setAttribute('role', 'status');
        limits.append(make('summary', '', 'When a frame is doubtful, and when it is dropped'),
            ...Object.keys(this.fields).slice(1).map(key => this.field(key)));
        place.append(make('h2', '', 'Once more'), this.field('target'), limits, given, said);
        document.ondragover = event => event.preventDefault();
        document.ondrop = event => {
            event.preventDefault();
            this.add([...event.dataTransfer.files]);
        };
    },

    words() {
        return Object.keys(this.fields).flatMap(key => {
            const value = $('wish-' + key).value.trim();
            return value ? ['--' + key, value] : [];
        });
    },

    run(words, files, keep) {
        this.started = this.started || Engine.start();
        return Engine.run(words, files, keep);
    },

    async add(files) {
        for (const file of files) {
            const name = '/in/' + file.name.replace(/[^\w.-]/g, '_');
            say('progress', 'Looking at ' + file.name + ' …');
            const done = await this.run(['solve', '--json', name], [[name, new Uint8Array(await file.arrayBuffer())]]);
            if (done.answer.startsWith('{')) {
                this.lines.push(done.answer.trim().replace('"/in/', '"'));
            } else {
                say('progress', complaint(done));
                return;
            }
        }
        await this.judge();
    },

    async judge() {
        say('progress', 'Judging ' + this.lines.length + ' frames …');
        const log = new TextEncoder().encode(this.lines.join('\n') + '\n');
        const done = await this.run(['review', '--from', '/night.jsonl', '--html', '/report.html', ...this.words()],
            [['/night.jsonl', log]], ['/report.html']);
        const page = done.kept['/report.html'];
        if (page) {
            this.replace(new DOMParser().parseFromString(new TextDecoder().decode(page), 'text/html'));
        }
        say('progress', page ? this.lines.length + ' frames judged anew' : complaint(done));
    },

    // All but this form is what the engine wrote. It has no frames to make small pictures of, and no
    // stack: those stay.
    replace(page) {
        const main = document.querySelector('main'), before = main.querySelector('#once-more');
        for (const figure of main.querySelectorAll('figure')) {
            const name = this.nameUnder(figure), picture = figure.querySelector('.pic');
            if (name && picture) {
                this.pictures.set(name, picture);
            }
        }
        const stack = this.section(main, 'What emerged');
        main.replaceChildren(...page.querySelector('main').children, before);
        for (const figure of main.querySelectorAll('figure')) {
            const picture = this.pictures.get(this.nameUnder(figure));
            if (picture && !figure.querySelector('.pic')) {
                figure.prepend(picture);
            }
        }
        main.querySelector('h2').before(...stack);
    },

    nameUnder(figure) {
        const said = figure.querySelector('p + p > small');
        return said && said.firstChild ? said.firstChild.textContent : '';
    },

    // A heading and what follows it up to the next.
    section(main, title) {
        const from = [...main.querySelectorAll(':scope > h2')].find(heading => heading.textContent === title), all = [];
        for (let at = from; at && (at === from || at.tagName !== 'H2'); at = at.nextElementSibling) {
            all.push(at);
        }
        return all;
    },
};
function say(id, text) {
    $(id).textContent = text;
}
Report.show();
