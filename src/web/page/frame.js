// A frame's answer: the move first, then the drawing, then what else is known.
'use strict';

const Frame = {
    current: null, // {name, file, bytes, bitmap, answer}
    queue: [],
    busy: false,
    stopped: false, // was cancelled before the engine had the picture

    take(files) {
        files.forEach(file => file.given = file.given || Date.now());
        this.queue.push(...files);
        if (!this.busy) {
            this.work();
        }
    },

    // The last picture once more, after a wish has changed.
    again() {
        if (this.current) {
            this.take([this.current.file]);
        }
    },

    useClock() {
        Settings.clockError = (Settings.clockError || 0) - clockLate(this.current.answer, this.current.file);
        this.again();
    },

    async work() {
        this.busy = true;
        this.stopped = false;
        show('cancel');
        while (this.queue.length) {
            const file = this.queue.shift();
            try {
                await this.answer(file);
            } catch (fault) {
                this.sayFailure(fault.message);
            }
        }
        show('cancel', false);
        this.busy = false;
    },

    cancel() {
        this.queue = [];
        this.stopped = true;
        Engine.restart();
    },

    // "Looking at frame.jpg … 3 s, 4 more to come", until the timer that is returned is cleared.
    sayProgress(name) {
        const start = Date.now();
        const tell = () => {
            const s = Math.floor((Date.now() - start) / 1000), more = this.queue.length;
            say('progress', 'Looking at ' + name + ' …' + (s ? ' ' + s + ' s' : '') +
                (more ? ', ' + more + ' more to come' : ''));
        };
        tell();
        return setInterval(tell, 1000);
    },

    // The name that the engine sees: its ending tells the kind of file, nothing else is needed.
    engineName(name) {
        const ending = /\.[A-Za-z0-9]{1,8}$/.exec(name);
        return '/in/frame' + (ending ? ending[0].toLowerCase() : '');
    },

    command(target) {
        const { words, files } = Settings.words({ clock: true });
        return { words: target ? ['aim', '--json', '--target', target, ...words] : ['solve', '--json', ...words], files };
    },

    async answer(file) {
        const name = this.engineName(file.name || 'frame.jpg'), target = $('target').value.trim();
        const progress = this.sayProgress(file.name || 'the picture');
        const bytes = new Uint8Array(await file.arrayBuffer());
        if (this.stopped) {
            clearInterval(progress);
            throw new Error('Cancelled');
        }
        const { words, files } = this.command(target);
        const [done, bitmap] = await Promise.all([
            Engine.run([...words, name], [[name, bytes], ...files]),
            Pictures.shown(file, bytes),
        ]).finally(() => clearInterval(progress));
        say('progress', '');
        let answer = null;
        try {
            answer = JSON.parse(done.answer.split('\n')[0]);
        } catch (fault) {
            this.current = null;
            this.sayFailure(complaint(done));
            return;
        }
        this.current = { name, file, title: file.name || 'picture', bytes, bitmap, answer, target, ms: done.ms };
        this.tell();
        await Drawing.whole(this.current);
        performance.mark('drawn');
        this.tellOthers();
    },

    sayFailure(text) {
        show('answer');
        say('move', text);
        for (const id of ['cue', 'facts', 'health', 'clock', 'named']) {
            say(id, '');
        }
        show('use-clock', false);
        show('sheet', false);
        show('keep', false);
    },

    tell() {
        const { answer, target } = this.current;
        show('answer');
        say('named', ''); // of the picture before
        say('move', answer.solved ? target ? moveText(answer) : whereText(answer) : 'No stars recognised');
        say('cue', answer.solved ? cueText(answer) : notSolvedText(answer));
        say('facts', answer.solved ? factsText(answer) : '');
        say('health', answer.health && answer.health.verdict !== 'good' ? sentence(answer.health.says) : '');
        const late = clockLate(answer, this.current.file);
        say('clock', clockText(late));
        show('use-clock', Boolean(clockText(late)) && Settings.knowsPlace());
        Drawing.quick(this.current);
        performance.mark('answered');
        $('move').focus();
    },

    tellOthers() {
        if (this.current && this.current.named) {
            say('named', this.current.named);
        }
    },
};

function say(id, text) {
    $(id).textContent = text;
    $(id).hidden = !text;
}

const sentence = text => text ? text[0].toUpperCase() + text.slice(1) : '';

function along(value, more, less) {
    return value === 0 ? '' : (value < 0 ? less : more);
}

// "Pan 3.4° left, tilt 1.2° up", from the tripod's axes if place and time are known, else along the
// picture.
function moveText(answer) {
    if (answer.in_frame === 'wholly' && answer.turn && Math.hypot(answer.turn.right_fields, answer.turn.up_fields) < 0.02) {
        return answer.target.name + ' is in the middle';
    }
    const head = answer.lead || answer.move;
    if (head) {
        return 'Pan ' + degrees(head.pan_right_deg) + ' ' + along(head.pan_right_deg, 'right', 'left') +
            ', tilt ' + degrees(head.tilt_up_deg) + ' ' + along(head.tilt_up_deg, 'up', 'down');
    }
    if (answer.turn) {
        return 'Turn ' + degrees(answer.turn.right_deg) + ' ' + along(answer.turn.right_deg, 'right', 'left') +
            ', then ' + degrees(answer.turn.up_deg) + ' ' + along(answer.turn.up_deg, 'up', 'down');
    }
    return answer.refused ? sentence(answer.refused) : answer.target.name + ' is too far away to say';
}

function cueText(answer) {
    const parts = [];
    const cue = answer.guide;
    if (cue) {
        parts.push((cue.star ? 'Bring ' + cue.star : 'Bring the star at the arrow') + ' to ' +
            (cue.mark ? 'where ' + cue.mark + ' is now' : 'the ring'));
    }
    if (answer.lead) {
        parts.push('then shoot ' + answer.lead.frames + ' frames and centre again');
    }
    return sentence(parts.join(', '));
}

const whereText = answer => (answer.subject || answer.centre.ra.replace(/\.\d+s/, 's') + ' ' + answer.centre.dec);

function notSolvedText(answer) {
    return answer.health && answer.health.says ? sentence(answer.health.says)
        : 'Give a sharp picture of stars, without zoom by software';
}

function factsText(answer) {
    const facts = [];
    if (answer.target) {
        facts.push({ wholly: 'wholly in the frame', partly: 'partly in the frame', no: 'not in the frame' }[answer.in_frame]);
    }
    facts.push(answer.field.width_deg.toFixed(1) + '° × ' + answer.field.height_deg.toFixed(1) + '°');
    facts.push(answer.centre.ra + ' ' + answer.centre.dec);
    facts.push(answer.stars.matched + ' stars agree to ' + answer.stars.rms_px.toFixed(2) + ' px');
    return facts.join(' · ');
}

// By how many seconds the camera's clock is behind this device's, if the picture was taken just
// before it was given; null: the picture does not say when it was taken.
function clockLate(answer, file) {
    return answer.mid_utc ? (file.given - Date.parse(answer.mid_utc)) / 1000 : null;
}

// A minute may pass until a picture is given; what is older than half a day is no fault of a clock.
function clockText(late) {
    if (late === null || (late < 60 && late > -5) || late > 14 * 3600) {
        return '';
    }
    const days = Math.abs(late) / 86400;
    const much = days > 1 ? Math.round(days) + ' d' : Math.abs(late) >= 3600 ? hours(Math.abs(late)) : minutes(Math.abs(late));
    return "The camera's clock is " + much + (late > 0 ? ' slow, if this was taken just now' : ' fast');
}
