// The drawing over the picture: at once from the answer, then by the programs' own pen as SVG.
'use strict';

const Drawing = {
    svg: null,

    clear() {
        this.svg = null;
        $('overlay').replaceChildren();
    },

    // The picture, and over it the target and where to turn.
    quick(frame) {
        const canvas = $('picture'), { answer, bitmap } = frame, size = answer.picture;
        this.clear();
        show('sheet', Boolean(size));
        show('keep', false);
        if (!size) {
            return;
        }
        canvas.width = bitmap ? bitmap.width : 1200;
        canvas.height = Math.round(canvas.width * size.height / size.width);
        const pen = canvas.getContext('2d');
        if (bitmap) {
            pen.drawImage(bitmap, 0, 0, canvas.width, canvas.height);
        }
        $('sheet').style.aspectRatio = size.width + ' / ' + size.height;
        $('sheet').style.maxWidth = 'calc((100vh - 120px) * ' + size.width / size.height + ')';
        if (answer.solved && answer.pixel) {
            this.move(pen, answer, canvas.width / size.width);
        }
    },

    // The star to move, the ring where it is to go; else from the middle towards the target.
    move(pen, answer, scale) {
        const size = answer.picture, cue = answer.guide, unit = pen.canvas.width / 100;
        pen.strokeStyle = pen.fillStyle = '#ff6a55';
        pen.lineWidth = unit / 2;
        if (cue) {
            const from = [cue.x * scale, cue.y * scale], to = [cue.to_x * scale, cue.to_y * scale];
            this.ring(pen, to, 2.4 * unit);
            this.arrow(pen, from, to, 1.2 * unit, 2.4 * unit);
            return;
        }
        const middle = [size.width / 2, size.height / 2];
        const far = [answer.pixel.x - middle[0], answer.pixel.y - middle[1]];
        const share = Math.min(1, 0.42 * Math.min(size.width, size.height) / (Math.hypot(...far) || 1));
        const to = [0, 1].map(i => (middle[i] + share * far[i]) * scale);
        this.arrow(pen, middle.map(value => value * scale), to, 0, 0);
    },

    ring(pen, at, radius) {
        pen.beginPath();
        pen.arc(...at, radius, 0, 7);
        pen.stroke();
    },

    // Leaves room at both ends; none if they are too near to each other.
    arrow(pen, from, to, before, behind) {
        const far = [to[0] - from[0], to[1] - from[1]], length = Math.hypot(...far), head = pen.canvas.width / 50;
        if (length < before + behind + head) {
            return;
        }
        const along = [far[0] / length, far[1] / length], turn = Math.atan2(far[1], far[0]);
        const tip = [to[0] - behind * along[0], to[1] - behind * along[1]];
        pen.beginPath();
        pen.moveTo(from[0] + before * along[0], from[1] + before * along[1]);
        pen.lineTo(tip[0] - head * along[0], tip[1] - head * along[1]);
        pen.stroke();
        pen.beginPath();
        pen.moveTo(...tip);
        for (const side of [2.75, -2.75]) {
            pen.lineTo(tip[0] + head * 1.3 * Math.cos(turn + side), tip[1] + head * 1.3 * Math.sin(turn + side));
        }
        pen.fill();
    },

    // What `annotate --alone` draws. The middle and scale that are known spare the search.
    async whole(frame) {
        const { answer, name, bytes, target } = frame;
        if (!answer.solved) {
            return;
        }
        const { words, files } = Settings.words({ clock: true });
        const known = ['--near', answer.centre.ra_deg + ',' + answer.centre.dec_deg, '--within', '2', '--scale', String(answer.scale_arcsec_px)];
        const layers = $('layers').value;
        const done = await Engine.run(['annotate', '--alone', '--output', '/out.svg', '--theme', $('theme').value,
            ...(layers ? ['--show', layers] : []), ...known, ...words, name], [[name, bytes], ...files], ['/out.svg']);
        const drawn = done.kept['/out.svg'];
        if (!drawn || frame !== Frame.current) {
            return;
        }
        frame.named = done.answer.replace(/^\/out\.svg: /, '').trim();
        this.svg = drawn;
        const image = new Image();
        image.alt = 'Objects and stars in the picture: ' + frame.named;
        image.src = URL.createObjectURL(new Blob([drawn], { type: 'image/svg+xml' }));
        image.onload = () => URL.revokeObjectURL(image.src);
        $('overlay').replaceChildren(image);
        if (!target) {
            this.redrawPlain(frame);
        }
        show('keep');
    },

    redrawPlain(frame) {
        if (frame.bitmap) {
            const canvas = $('picture');
            canvas.getContext('2d').drawImage(frame.bitmap, 0, 0, canvas.width, canvas.height);
        }
    },

    // Picture and drawing as one JPEG.
    async composed() {
        const canvas = document.createElement('canvas'), picture = $('picture');
        canvas.width = picture.width;
        canvas.height = picture.height;
        const pen = canvas.getContext('2d');
        pen.fillStyle = '#000';
        pen.fillRect(0, 0, canvas.width, canvas.height);
        pen.drawImage(picture, 0, 0);
        const image = new Image();
        image.src = 'data:image/svg+xml;charset=utf-8,' + encodeURIComponent(new TextDecoder().decode(this.svg));
        await image.decode();
        pen.drawImage(image, 0, 0, canvas.width, canvas.height);
        return new Promise(resolve => canvas.toBlob(resolve, 'image/jpeg', 0.9));
    },

    async keep() {
        const blob = await this.composed(), name = Frame.current.title.replace(/\.[^.]*$/, '') + '-marked.jpg';
        const file = new File([blob], name, { type: 'image/jpeg' });
        if (navigator.canShare && navigator.canShare({ files: [file] })) {
            await navigator.share({ files: [file], title: name }).catch(() => download(name, blob));
        } else {
            download(name, blob);
        }
    },
};
