/* The page of a night that is watched. State comes as events from the computer that watches; texts
   from there are shown as texts and never as markup. */
'use strict';

const byId = id => document.getElementById(id);
const SVG = 'http://www.w3.org/2000/svg';

let state = null;      // the latest, as the server gives it
let aged = 0;          // its age when it came, s
let came = 0;          // when that was, ms of this page's clock
let heard = 0;         // when anything was heard last
let lastTry = 0;       // when a connection was tried anew
let run = '';          // of the server, from the numbers of its events
let lastAlert = 0;     // the newest alert that was sounded
const away = new Set();  // alerts that were put away here

const age = () => aged + (performance.now() - came) / 1000;

function duration(seconds) {
  const s = Math.max(0, Math.round(seconds));
  if (s < 100) return s + ' s';
  const minutes = Math.round(s / 60);
  return minutes < 100 ? minutes + ' min' : (s / 3600).toFixed(1) + ' h';
}

function frames(n) {
  return n + (n === 1 ? ' frame' : ' frames');
}

/* What to do next. */

function countdown(act) {
  if (act.now) return 'now';
  if (act.frames === undefined) return '';
  const seconds = act.due_s === undefined ? 0 : act.due_s - age();
  const due = seconds > 0 ? ' · ' + duration(seconds) : '';
  return 'in ' + frames(Math.floor(act.frames)) + due;
}

function showAct() {
  const act = state.act;
  byId('act').textContent = act.text;
  byId('count').textContent = countdown(act);
  byId('next').classList.toggle('now', act.now);
  const then = state.then;
  byId('then').textContent = then ? 'then: ' + then.text + ' ' + countdown(then) : '';
  const moved = state.moved;
  const fresh = moved && state.frames - moved.frame < 12;
  byId('moved').textContent = fresh ? moved.text : '';
}

function showLink() {
  const silent = heard ? (performance.now() - heard) / 1000 : 0;
  const lost = silent > 8;
  const link = byId('link');
  link.classList.toggle('lost', lost);
  if (!state) {
    link.textContent = 'connecting';
  } else if (lost) {
    link.textContent = 'no connection for ' + duration(silent) + ': what you see is ' +
      duration(age()) + ' old';
  } else {
    link.textContent = state.target + (state.target_next ? ', next ' + state.target_next : '') +
      (state.last && state.last.since_s !== null
        ? ' · last frame ' + duration(state.last.since_s + age()) + ' ago' : '');
  }
}

/* Alerts. */

const ALERTS_SHOWN = 2;
let allAlerts = false;
let sounds = null;

function tone() {
  if (!sounds || sounds.state !== 'running') return;
  const begin = sounds.currentTime;
  for (let i = 0; i < 3; i++) {
    const voice = sounds.createOscillator(), level = sounds.createGain();
    voice.frequency.value = i === 1 ? 660 : 880;
    level.gain.setValueAtTime(0.0001, begin + i * 0.25);
    level.gain.exponentialRampToValueAtTime(0.4, begin + i * 0.25 + 0.02);
    level.gain.exponentialRampToValueAtTime(0.0001, begin + i * 0.25 + 0.22);
    voice.connect(level).connect(sounds.destination);
    voice.start(begin + i * 0.25);
    voice.stop(begin + i * 0.25 + 0.24);
  }
}

function raise(alert) {
  if (byId('sound').checked) tone();
  if (byId('shake').checked && navigator.vibrate) navigator.vibrate([400, 150, 400]);
  if (byId('speak').checked && window.speechSynthesis) {
    const words = new SpeechSynthesisUtterance(alert.title.toLowerCase() + '. ' + alert.text);
    words.lang = 'en';
    speechSynthesis.speak(words);
  }
}

function alertItem(alert) {
  const item = document.createElement('li'), words = document.createElement('div');
  const title = document.createElement('b'), text = document.createElement('span');
  const button = document.createElement('button');
  item.className = alert.loud ? 'loud' : 'quiet';
  item.dataset.alert = alert.alert;
  title.textContent = alert.title;
  text.textContent = alert.text;
  button.type = 'button';
  button.textContent = 'Put away';
  button.setAttribute('aria-label', 'Put away: ' + alert.title);
  button.addEventListener('click', () => {
    away.add(alert.id);
    showAlerts();
  });
  words.append(title, text);
  item.append(words, button);
  return item;
}

function moreItem(count) {
  const item = document.createElement('li'), button = document.createElement('button');
  button.type = 'button';
  button.textContent = count + ' more';
  button.addEventListener('click', () => {
    allAlerts = true;
    showAlerts();
  });
  item.className = 'more';
  item.append(button);
  return item;
}

/* The drawing must stay in sight: few alerts are shown, those that somebody has to act on first. */
function showAlerts() {
  const open = state.alerts.filter(alert => !away.has(alert.id));
  open.sort((a, b) => (b.loud - a.loud) || (b.id - a.id));
  allAlerts = allAlerts && open.length > ALERTS_SHOWN;
  const shown = allAlerts ? open : open.slice(0, ALERTS_SHOWN);
  const list = byId('alerts');
  const key = shown.map(alert => alert.id).join() + '/' + open.length;
  if (list.dataset.key !== key) {
    const more = open.length > shown.length ? [moreItem(open.length - shown.length)] : [];
    list.replaceChildren(...shown.map(alertItem), ...more);
    list.dataset.key = key;
  }
  const fresh = state.alerts.filter(alert => alert.loud && alert.id > lastAlert);
  lastAlert = Math.max(lastAlert, ...state.alerts.map(alert => alert.id));
  if (fresh.length) raise(fresh[0]);
}

/* The frame. */

function add(parent, name, attributes, text) {
  const element = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text !== undefined) element.textContent = text;
  parent.append(element);
  return element;
}

function points(flat) {
  const out = [];
  for (let i = 0; i + 1 < flat.length; i += 2) out.push(flat[i] + ',' + flat[i + 1]);
  return out.join(' ');
}

function drawArrow(svg, from, to, unit) {
  const dx = to.x - from.x, dy = to.y - from.y, length = Math.hypot(dx, dy);
  if (length < 6 * unit) return;
  const ux = dx / length, uy = dy / length, head = Math.min(16 * unit, length / 2);
  add(svg, 'line', {class: 'arrow', x1: from.x, y1: from.y, x2: to.x - ux * head * 0.8, y2: to.y - uy * head * 0.8});
  const side = (a, b) => (to.x - ux * head + a * head * 0.5) + ',' + (to.y - uy * head + b * head * 0.5);
  add(svg, 'polygon', {class: 'head',
    points: to.x + ',' + to.y + ' ' + side(-uy, ux) + ' ' + side(uy, -ux)});
}

/* A label beside a point, on the side that points away from another one, inside the frame. */
function label(svg, d, unit, at, text, from) {
  const wide = text.length * 9 * unit;
  let left = from && from.x > at.x;
  if (left && at.x - wide < 0) left = false;
  if (!left && at.x + wide > d.width) left = true;
  const y = at.y + (at.y > d.height - 20 * unit ? -8 : 6) * unit;
  add(svg, 'text', {x: at.x + (left ? -14 : 14) * unit, y, 'font-size': 17 * unit,
    'text-anchor': left ? 'end' : 'start'}, text);
}

/* The name of the target, over its outline or under it. */
function nameTarget(svg, d, unit) {
  const t = d.target, ys = t.outline.filter((_, i) => i % 2), wide = t.name.length * 5 * unit;
  const top = Math.min(t.at.y - 12 * unit, ...ys), bottom = Math.max(t.at.y + 12 * unit, ...ys);
  const free = !d.star || d.star.y > t.at.y;  /* the star to move has a name, too */
  const above = top > 30 * unit && (free || bottom > d.height - 30 * unit);
  const y = above ? top - 8 * unit : Math.min(bottom + 20 * unit, d.height - 8 * unit);
  const x = Math.min(Math.max(t.at.x, wide), d.width - wide);
  add(svg, 'text', {x, y, 'font-size': 17 * unit, 'text-anchor': 'middle'}, t.name);
}

function drawStars(svg, d, unit) {
  for (const star of d.stars) {
    add(svg, 'circle', {class: 'dot', cx: star.x, cy: star.y,
      r: Math.min(4.5, Math.max(1.2, 5 - 0.55 * star.mag)) * unit});
  }
}

function drawTarget(svg, d, unit) {
  const t = d.target;
  if (t.outline.length) {
    add(svg, 'polygon', {class: 'outline', points: points(t.outline)});
    if (t.goal && t.at) {
      add(svg, 'polygon', {class: 'goal', points: points(t.outline),
        transform: 'translate(' + (t.goal.x - t.at.x) + ' ' + (t.goal.y - t.at.y) + ')'});
    }
  }
  if (t.at) {
    add(svg, 'circle', {class: 'ring', cx: t.at.x, cy: t.at.y, r: 7 * unit});
    nameTarget(svg, d, unit);
  }
}

function drawPath(svg, d, unit) {
  if (!d.path.length) return;
  add(svg, 'polyline', {class: 'path', points: d.path.map(p => p.x + ',' + p.y).join(' ')});
  let last = d.path[0];
  for (const step of d.path.slice(1)) {
    add(svg, 'circle', {class: 'step', cx: step.x, cy: step.y, r: 3 * unit});
    const room = Math.hypot(step.x - last.x, step.y - last.y) > 28 * unit;
    if (room && step.x < d.width - 16 * unit && step.x > 16 * unit) {
      add(svg, 'text', {class: 'small', x: step.x, y: step.y + 18 * unit, 'font-size': 13 * unit,
        'text-anchor': 'middle'}, '+' + step.frames);
      last = step;
    }
  }
}

function drawMove(svg, d, unit) {
  if (d.star) {
    const from = {x: d.star.x, y: d.star.y}, to = {x: d.star.to_x, y: d.star.to_y};
    add(svg, 'circle', {class: 'ring', cx: to.x, cy: to.y, r: 11 * unit});
    drawArrow(svg, from, to, unit);
    add(svg, 'circle', {class: 'star', cx: from.x, cy: from.y, r: 5 * unit});
    label(svg, d, unit, from, d.star.name, to);
  } else if (d.target.at && d.target.goal) {
    drawArrow(svg, d.target.at, d.target.goal, unit);
  }
}

function drawFrame(svg, d) {
  svg.setAttribute('viewBox', [-0.5, -0.5, d.width, d.height].join(' '));
  const box = svg.getBoundingClientRect();
  const unit = box.width ? Math.max(d.width / box.width, d.height / box.height) : d.width / 400;
  svg.replaceChildren();
  add(svg, 'rect', {class: 'rim', x: -0.5, y: -0.5, width: d.width, height: d.height});
  if (d.safe_px > 0) {
    add(svg, 'rect', {class: 'safe', x: d.safe_px - 0.5, y: d.safe_px - 0.5,
      width: d.width - 2 * d.safe_px, height: d.height - 2 * d.safe_px});
  }
  drawStars(svg, d, unit);
  drawPath(svg, d, unit);
  drawTarget(svg, d, unit);
  drawMove(svg, d, unit);
}

function caption(d) {
  if (!d.star) return '';
  const to = d.star.mark ? 'where ' + d.star.mark + ' is now' : 'to the arrow’s end';
  return 'Bring ' + (d.star.name.startsWith('mag ') ? 'the star of ' + d.star.name : d.star.name) +
    ' ' + to;
}

function showFrame() {
  const d = state.drawing;
  byId('frame').hidden = !d;
  if (!d) return;
  const old = state.frames > state.drawing_frame;
  const svg = byId('sky');
  svg.classList.toggle('old', old || !state.act.now);
  drawFrame(svg, d);
  byId('caption').textContent = (old ? 'Of frame ' + state.drawing_frame + ': ' : '') + caption(d);
}

/* The last frame, the night, the light. */

const VERDICTS = {keep: 'keep', doubtful: 'doubtful', drop: 'drop', apart: 'no sky frame'};

function showLast() {
  const last = state.last;
  byId('verdict').textContent = last ? VERDICTS[last.verdict] : 'no frame yet';
  byId('why').textContent = last ? [last.clock, last.name, last.text].filter(Boolean).join(' · ') : '';
}

function showRibbon() {
  const canvas = byId('ribbon'), box = canvas.getBoundingClientRect();
  const dense = window.devicePixelRatio || 1;
  canvas.width = Math.max(1, Math.round(box.width * dense));
  canvas.height = Math.max(1, Math.round(box.height * dense));
  const pen = canvas.getContext('2d'), style = getComputedStyle(document.documentElement);
  const ink = style.getPropertyValue('--ink'), faint = style.getPropertyValue('--faint');
  const heights = {k: 1, d: 0.6, x: 0.3, a: 0.12};
  const step = canvas.width / Math.max(60, state.ribbon.length);
  for (let i = 0; i < state.ribbon.length; i++) {
    const letter = state.ribbon[i], high = heights[letter] * canvas.height;
    pen.fillStyle = letter === 'k' ? faint : ink;
    pen.fillRect(i * step, canvas.height - high, Math.max(1, step * 0.8), high);
  }
}

function showLight() {
  const light = state.light;
  const wanted = light.wanted_s ? ' of ' + duration(light.wanted_s) : '';
  byId('light').textContent = 'light ' + duration(light.got_s) + wanted + ' · ' +
    light.kept + ' of ' + frames(state.frames) + ' to keep';
  byId('bar').hidden = !light.wanted_s;
  if (light.wanted_s) {
    byId('fill').style.width = Math.min(100, 100 * light.got_s / light.wanted_s) + '%';
  }
  byId('trouble').textContent = state.trouble || '';
}

function showGlimpse() {
  const glimpse = state.glimpse;
  byId('emerging').hidden = !glimpse;
  if (!glimpse) return;
  const svg = byId('rim');
  svg.setAttribute('viewBox', [-0.5, -0.5, glimpse.width, glimpse.height].join(' '));
  svg.replaceChildren();
  if (byId('outlined').checked && glimpse.outline.length) {
    add(svg, 'polygon', {class: 'outline', points: points(glimpse.outline)});
  }
  byId('glimpsetext').textContent = glimpse.text;
  byId('glimpseframes').textContent = glimpse.frames;
}

function showAll() {
  if (!state) return;
  showAct();
  showAlerts();
  showFrame();
  showLast();
  showRibbon();
  showLight();
  showGlimpse();
  showLink();
}

/* What the computer says. */

function takeState(event) {
  const message = JSON.parse(event.data);
  const from = event.lastEventId.slice(0, event.lastEventId.lastIndexOf('-'));
  if (from !== run) {  // the watch was started again: alerts count from one
    run = from;
    lastAlert = 0;
    away.clear();
  }
  state = message.state;
  aged = message.age_s;
  came = heard = performance.now();
  showAll();
}

function takeBeat(event) {
  aged = JSON.parse(event.data).age_s;
  came = heard = performance.now();
  showLink();
}

function takePicture(name) {
  return event => {
    heard = performance.now();
    const image = byId(name === 'picture' ? 'picture' : 'glimpse');
    image.src = name + '.jpg?n=' + JSON.parse(event.data).number;
    image.hidden = false;
  };
}

let source = null;

function listen() {
  if (source) source.close();
  source = new EventSource('events');
  source.addEventListener('state', takeState);
  source.addEventListener('beat', takeBeat);
  source.addEventListener('picture', takePicture('picture'));
  source.addEventListener('glimpse', takePicture('glimpse'));
}

/* A connection that went silently is not noticed by the browser for minutes. */
setInterval(() => {
  showLink();
  if (state) byId('count').textContent = countdown(state.act);
  const silent = performance.now() - Math.max(heard, lastTry);
  if (source.readyState === EventSource.CLOSED ? silent > 2000 : silent > 15000) {
    lastTry = performance.now();
    listen();
  }
}, 1000);
/* What the page asks for. */

async function post(name, body) {
  try {
    const response = await fetch(name, {method: 'POST', body});
    const answer = await response.json();
    return response.ok ? answer : {error: answer.error || 'no answer'};
  } catch (problem) {
    return {error: 'no connection: try again'};
  }
}

byId('want').addEventListener('submit', async event => {
  event.preventDefault();
  const form = event.target, answer = await post('want', new URLSearchParams(new FormData(form)));
  byId('wantanswer').textContent = answer.error || 'From the next frame on.';
  if (!answer.error) form.reset();
});

function otherItem(other) {
  const item = document.createElement('li'), button = document.createElement('button');
  const small = document.createElement('small');
  button.type = 'button';
  button.textContent = other.name;
  small.textContent = other.hours + ', up to ' + other.altitude_deg + '° · ' + other.why;
  button.append(small);
  button.addEventListener('click', () => {
    byId('want').elements.target.value = other.id;
    open('change');
    byId('wantanswer').textContent = 'Apply, and ' + other.name + ' is the target.';
  });
  item.append(button);
  return item;
}

async function askOthers() {
  byId('otherstext').textContent = 'looking…';
  byId('otherslist').replaceChildren();
  const answer = await post('others', new URLSearchParams());
  byId('otherstext').textContent = answer.error || answer.text;
  byId('otherslist').replaceChildren(...(answer.others || []).map(otherItem));
  byId('others').scrollIntoView({block: 'nearest'});
}

byId('file').addEventListener('change', async event => {
  const file = event.target.files[0];
  if (!file) return;
  const form = new FormData(), svg = byId('sentsky');
  form.append('picture', file);
  svg.toggleAttribute('hidden', true);
  byId('sendtext').textContent = 'looking at ' + file.name + '…';
  const answer = await post('look', form);
  byId('sendtext').textContent = answer.error ||
    [answer.move, answer.verdict, answer.text].filter(Boolean).join(' · ');
  if (answer.drawing) {
    svg.toggleAttribute('hidden', false);
    drawFrame(svg, answer.drawing);
  }
  event.target.value = '';
});

function open(id) {
  for (const button of document.querySelectorAll('[data-opens]')) {
    const its = button.dataset.opens, sheet = byId(its);
    sheet.hidden = its !== id || (!sheet.hidden && its !== 'change');
    button.setAttribute('aria-expanded', String(!sheet.hidden));
  }
  const sheet = byId(id);
  if (!sheet.hidden) {
    sheet.scrollIntoView({block: 'nearest'});
    if (id === 'others') askOthers();
  }
}

for (const button of document.querySelectorAll('[data-opens]')) {
  button.setAttribute('aria-expanded', 'false');
  button.addEventListener('click', () => {
    const sheet = byId(button.dataset.opens);
    if (button.dataset.opens === 'change' && !sheet.hidden) {
      sheet.hidden = true;
      button.setAttribute('aria-expanded', 'false');
    } else {
      open(button.dataset.opens);
    }
  });
}

/* This screen. */

const KEPT = ['bright', 'outlined', 'sound', 'shake', 'speak'];

function dress() {
  const bright = byId('bright').checked;
  document.documentElement.className = bright ? 'light' : 'dark';
  showAll();
}

for (const name of KEPT) {
  const box = byId(name), kept = localStorage.getItem(name);
  if (kept !== null) box.checked = kept === 'yes';
  box.addEventListener('change', () => {
    localStorage.setItem(name, box.checked ? 'yes' : 'no');
    dress();
  });
}

/* Browsers keep a screen awake for pages of this computer or with a certificate; for others a
   picture that moves does it on most telephones. */
let moving = null;

async function stayAwake() {
  let how = 'may go dark: set the telephone not to sleep';
  try {
    if (navigator.wakeLock) {
      await navigator.wakeLock.request('screen');
      how = 'is kept on';
    } else if (HTMLCanvasElement.prototype.captureStream) {
      if (!moving) {
        const canvas = document.createElement('canvas');
        moving = document.createElement('video');
        moving.muted = moving.playsInline = true;
        moving.srcObject = canvas.captureStream(1);
        setInterval(() => canvas.getContext('2d').fillRect(0, 0, 1, 1), 1000);
      }
      await moving.play();
      how = 'is kept on, if the telephone lets it';
    }
  } catch (problem) {
    /* tried again at the next touch */
  }
  byId('awake').textContent = 'The screen ' + how + '.';
}

function touched() {
  if (!sounds && window.AudioContext) sounds = new AudioContext();
  if (sounds && sounds.state === 'suspended') sounds.resume();
  stayAwake();
}

document.addEventListener('pointerdown', touched);
document.addEventListener('keydown', touched);
document.addEventListener('visibilitychange', () => {
  if (document.visibilityState === 'visible') {
    stayAwake();
    listen();
  }
});
window.addEventListener('resize', showAll);

dress();
stayAwake();
listen();
