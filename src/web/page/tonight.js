// Tonight's targets from here, one target's plan, its field card, and charts of objects.
'use strict';

const Tonight = {
    words() {
        const { words, files } = Settings.words();
        const focal = $('focal').value.trim();
        if (focal) {
            words.push('--focal', focal);
        }
        if ($('date').value) {
            words.push('--date', $('date').value);
        }
        return { words, files };
    },

    async plan() {
        if (!Settings.knowsPlace()) {
            say('tonight-says', 'First say where you stand: in Settings, or allow your place.');
            return;
        }
        say('tonight-says', 'Looking what is up …');
        const { words, files } = this.words();
        const done = await Engine.run(['plan', '--json', ...words], files);
        $('targets').replaceChildren();
        let plan;
        try {
            plan = JSON.parse(done.answer);
        } catch (fault) {
            say('tonight-says', complaint(done));
            return;
        }
        say('tonight-says', plan.night.dark
            ? 'Dark ' + clock(plan.night.dark.start_utc) + '–' + clock(plan.night.dark.end_utc) +
              ' · Moon ' + Math.round(100 * plan.night.moon.lit) + ' % lit'
            : 'It does not get dark tonight.');
        for (const target of plan.targets.slice(0, 20)) {
            $('targets').append(this.row(target));
        }
    },

    row(target) {
        const row = make('li'), button = make('button', 'target');
        button.append(make('b', '', target.name || target.id), make('span', '', this.facts(target)));
        button.onclick = () => this.detail(target.id);
        row.append(button);
        return row;
    },

    facts(target) {
        const facts = [];
        if (target.window) {
            facts.push(clock(target.window.start_utc) + '–' + clock(target.window.end_utc));
        }
        facts.push('best ' + clock(target.best_utc) + ', ' + Math.round(target.altitude_deg) + '° high');
        return facts.join(' · ');
    },

    // What was decided for one target, the card to take along, and the plan in full.
    async detail(id) {
        const { words, files } = this.words();
        const done = await Engine.run(['plan', '--target', id, '--json', '--card', '/card.pdf', ...words], files, ['/card.pdf']);
        const card = done.kept['/card.pdf'];
        $('target').value = id;
        Settings.keepValue('target', id);
        show('detail');
        show('card', Boolean(card));
        $('card').onclick = () => download(id.replace(/\W+/g, '-').toLowerCase() + '-card.pdf', new Blob([card], { type: 'application/pdf' }));
        $('decided').replaceChildren(...(done.code ? [make('dd', '', complaint(done))] : this.decided(JSON.parse(done.answer))));
        $('detail').scrollIntoView({ block: 'start' });
        const full = await Engine.run(['plan', '--target', id, ...words], files);
        say('full', full.answer.trim());
    },

    decided(plan) {
        const { target, way } = plan, shots = target.shots, rows = [];
        const row = (name, text) => rows.push(make('dt', '', name), make('dd', '', text));
        row('Target', target.name);
        row('Start', clock(target.begin_utc) + ', ' + Math.round(target.altitude_deg) + '° high at best');
        if (way && way.length > 1) {
            const last = way[way.length - 1];
            row('Find it', 'from ' + way[0].star + ': pan ' + degrees(last.pan_right_deg) + ' ' + along(last.pan_right_deg, 'right', 'left') +
                ', tilt ' + degrees(last.tilt_up_deg) + ' ' + along(last.tilt_up_deg, 'up', 'down'));
        }
        if (shots) {
            row('Exposure', shots.exposure_s + ' s');
            row('Frames', String(shots.frames));
            row('Re-centre', 'every ' + shots.recentre_frames + ' frames, ' + minutes(shots.recentre_s));
        }
        return rows;
    },
};

const LookUp = {

    async find() {
        const name = $('object').value.trim();
        if (!name) {
            return;
        }
        const { words, files } = Settings.words({ where: false, zone: false });
        const focal = $('focal').value.trim();
        const done = await Engine.run(['object', name, '--output', '/chart.svg', '--theme', 'red',
            ...(focal ? ['--frame-of', focal] : []), ...words], files, ['/chart.svg']);
        const chart = done.kept['/chart.svg'];
        say('object-says', done.code ? complaint(done) : done.answer.replace(/^\/chart\.svg.*\n?/m, '').trim());
        const image = new Image();
        image.alt = 'Chart of ' + name;
        $('chart').replaceChildren();
        if (chart) {
            image.src = URL.createObjectURL(new Blob([chart], { type: 'image/svg+xml' }));
            $('chart').replaceChildren(image);
        }
    },
};
