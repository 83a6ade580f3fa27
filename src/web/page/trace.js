// Traces: drawing, zooming, panning, the line and the held place. Lowest and highest of each column come from the
// program, so that nothing that stuck out is lost.
import { isPlaying, play, showBridge, stopPlaying } from './bridge.js';
import { ask, at, channelNamed, offer, shown, state, valueAt } from './kit.js';

const left = 84, below = 22, above = 8;

// What stands still under the marks: once drawn twice alike, it is kept as a picture, so that playing copies it.
const stills = new WeakMap();  // by canvas
function keptStill(canvas, key) {
  const kept = stills.get(canvas);
  if (kept && key.every((one, i) => one === kept.key[i])) { kept.again = true; return kept; }
  const fresh = { key, again: false, image: null };
  stills.set(canvas, fresh);
  return fresh;
}

export function drawTrace(canvas, channel, from, to, marks) {
  const ratio = window.devicePixelRatio || 1, width = canvas.clientWidth, height = canvas.clientHeight;
  if (canvas.width !== Math.round(width * ratio)) canvas.width = Math.round(width * ratio);
  if (canvas.height !== Math.round(height * ratio)) canvas.height = Math.round(height * ratio);
  const pen = canvas.getContext('2d'), css = getComputedStyle(document.documentElement);
  const still = keptStill(canvas, [channel, from, to, canvas.width, canvas.height, css.getPropertyValue('--ink')]);
  if (still.image) {
    pen.setTransform(1, 0, 0, 1, 0, 0);
    pen.clearRect(0, 0, canvas.width, canvas.height);
    pen.drawImage(still.image, 0, 0);
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  } else {
    pen.setTransform(ratio, 0, 0, ratio, 0, 0);
    pen.clearRect(0, 0, width, height);
    if (!drawStill(pen, css, channel, from, to, width, height)) return;
    if (still.again) {
      still.image = new OffscreenCanvas(canvas.width, canvas.height);
      still.image.getContext('2d').drawImage(canvas, 0, 0);
    }
  }
  drawMarks(pen, css, marks, width, height);
}

function drawMarks(pen, css, marks, width, height) {
  const bottom = height - below, right = width - 8;
  pen.lineWidth = 1.3;
  pen.font = '12px system-ui';
  for (const mark of marks) {
    if (mark.place < 0 || mark.place > 1) continue;
    const place = left + mark.place * (right - left);
    pen.strokeStyle = css.getPropertyValue('--stop'); pen.setLineDash(mark.held ? [2, 4] : []);
    pen.beginPath(); pen.moveTo(place, above); pen.lineTo(place, bottom); pen.stroke();
    if (mark.words) { pen.fillStyle = css.getPropertyValue('--ink'); pen.fillText(mark.words, Math.min(place + 4, right - 90), above + 12); }
  }
  pen.setLineDash([]);
}

// Grid, numbers and the channel itself; false where there is nothing to draw.
function drawStill(pen, css, channel, from, to, width, height) {
  pen.lineWidth = 1;
  if (!channel || !channel.low.length) return false;
  let least = Infinity, most = -Infinity;
  channel.low.forEach((low, i) => { if (low !== null) { least = Math.min(least, low); most = Math.max(most, channel.high[i]); } });
  if (most < least) return false;
  if (most - least < 1e-12) { least -= 1e-9; most += 1e-9; }
  const bottom = height - below, right = width - 8;
  const x = i => left + (right - left) * i / Math.max(1, channel.low.length - 1);
  const y = value => bottom - (bottom - above) * (value - least) / (most - least);
  pen.font = '12px system-ui'; pen.fillStyle = css.getPropertyValue('--quiet');
  pen.strokeStyle = css.getPropertyValue('--rim');
  for (const part of [0, 0.5, 1]) {
    const value = least + part * (most - least);
    pen.fillText(shown(value, channel.unit), 4, y(value) + (part === 1 ? 10 : part === 0 ? -2 : 4));
    pen.beginPath(); pen.moveTo(left, y(value)); pen.lineTo(right, y(value)); pen.stroke();
    const t = from + part * (to - from), label = `${t.toPrecision(5)} s`;
    pen.fillText(label, part === 1 ? right - pen.measureText(label).width : left + part * (right - left), height - 6);
  }
  const side = channel.name.endsWith(' A') ? '--a' : channel.name.endsWith(' B') ? '--b' : '--ink';
  pen.strokeStyle = css.getPropertyValue(side); pen.lineWidth = 1.3;
  if (side === '--b') pen.setLineDash([6, 3]);
  pen.beginPath();
  let on = false;
  channel.low.forEach((low, i) => {
    if (low === null) { on = false; return; }
    if (on) pen.lineTo(x(i), y(low)); else pen.moveTo(x(i), y(low));
    if (channel.high[i] !== low) pen.lineTo(x(i), y(channel.high[i]));
    on = true;
  });
  pen.stroke(); pen.setLineDash([]);
  return true;
}

const span = () => state.trace.to_s - state.trace.from_s;
const timeHere = () => state.trace.from_s + state.place * span();
const chosenChannel = () => channelNamed(state.trace, at('channel').value) || state.trace.channels[0];

export function showTrace(moving = false) {
  const trace = state.trace;
  if (!trace) return;
  const chosen = chosenChannel(), marks = [{ place: state.place }];
  for (const mark of trace.marks || []) marks.push({ place: (mark.t - trace.from_s) / span(), held: true, words: mark.words });
  if (state.held) marks.push({ place: (state.held.t - trace.from_s) / span(), held: true, words: 'held' });
  drawTrace(at('trace'), chosen, trace.from_s, trace.to_s, marks);
  at('time-words').textContent = `${timeHere().toFixed(4)} s`;
  if (moving === true) return;  // words and bridge follow when it rests
  if (moving === 'playing') { showBridge(false); return; }
  if (!chosen) { at('trace-words').textContent = 'This recording has nothing to draw.'; showBridge(); return; }
  const value = valueAt(trace, chosen.name, state.place), singly = trace.samples <= chosen.low.length;
  let words = `${trace.virtual ? 'Virtual run: ' : ''}${chosen.name} ${shown(value, chosen.unit)} at the line; ${trace.samples} samples${singly ? ', each drawn' : ', lowest and highest of each column drawn'}.`;
  if (state.held && state.held.channel === chosen.name && value !== null)
    words += ` From the held place: ${(timeHere() - state.held.t).toFixed(4)} s, ${shown(value - state.held.value, chosen.unit)}.`;
  at('trace-words').textContent = words;
  showBridge();
}

let runsShown = 0;  // of the virtual gantry: a recording asked for before one is not drawn over it
export function showVirtual(words, run, marks = []) {
  if (!run.channels.length) return;
  ++runsShown;
  clearTimeout(settle);
  state.trace = { virtual: words, recording: null, from_s: run.from_s, to_s: run.to_s, samples: run.samples, carriage_y_m: run.carriage_y_m, channels: run.channels, marks };
  state.place = 0;
  state.held = null;
  offer(at('channel'), run.channels.map(channel => channel.name));
  showTrace();
  play(showTrace);
  at('bridge-head').scrollIntoView({ block: 'nearest' });
}

const known = () => state.job.recordings.find(one => one.name === at('recording').value);
export async function openRecording(name, from, to) {
  at('recording').value = name;
  if (!known()) return;
  stopPlaying();
  state.held = null;
  state.view = from !== null && from !== undefined && to > from ? [from, to] : [known().from_s, known().to_s];
  await loadTrace();
}

// One channel over three times the view, so that panning draws without asking.
let wide = null;
function showFromWide() {
  const channel = wide && wide.recording === at('recording').value && channelNamed(wide, at('channel').value);
  if (!channel) return false;
  const step = (wide.to_s - wide.from_s) / channel.low.length, [from, to] = state.view;
  const count = Math.round((to - from) / step), first = Math.round((from - wide.from_s) / step);
  if (count < 2 || first < -1 || first + count > channel.low.length + 1) return false;
  const begin = Math.max(0, first), end = Math.min(channel.low.length, first + count);
  state.trace = { ...wide, from_s: from, to_s: to, samples: Math.round(wide.samples * (end - begin) / channel.low.length),
    channels: [{ ...channel, low: channel.low.slice(begin, end), high: channel.high.slice(begin, end) }] };
  showTrace(true);
  return true;
}
function nearItsEnd() {
  const margin = (state.view[1] - state.view[0]) / 2;
  return (state.view[0] - wide.from_s < margin && state.view[0] - known().from_s > margin) || (wide.to_s - state.view[1] < margin && known().to_s - state.view[1] > margin);
}

// One question at a time; a view that was asked for meanwhile comes next. While it moves, the shown channel alone.
// Ends when the view asked for last is drawn.
let loading = null, again = null, settle = 0;
export function loadTrace(alone = false) {
  if (!at('recording').value || !state.view) return null;
  again = { alone };
  loading ??= loadAll();
  return loading;
}
async function loadAll() {
  try {
    while (again) {
      const { alone } = again;
      again = null;
      await loadOnce(alone);
    }
  } finally { loading = null; }
}
async function loadOnce(alone) {
  if (!known()) return;  // it has left the job meanwhile
  const channel = alone && state.trace && !state.trace.virtual ? at('channel').value : '';
  const length = state.view[1] - state.view[0], columns = Math.max(200, Math.round(at('trace').clientWidth));
  const [from, to] = channel ? [Math.max(known().from_s, state.view[0] - length), Math.min(known().to_s, state.view[1] + length)] : state.view;
  const runs = runsShown;
  const query = new URLSearchParams({ recording: at('recording').value, from, to, columns: Math.round(columns * (to - from) / length), channel });
  try {
    const got = await ask(`/ask/trace?${query}`);
    if (runs !== runsShown) again = null;
    else if (channel) {
      wide = got;
      showFromWide();
    } else {
      if (state.trace && state.trace.virtual) stopPlaying();
      state.trace = got;
      offer(at('channel'), got.channels.map(one => one.name));
      showTrace();
    }
  } catch (error) { at('trace-words').textContent = error.message; }
}

function zoom(factor, around = 0.5) {
  if (!state.view || !known()) return;
  const [from, to] = state.view, centre = from + around * (to - from);
  const fewest = 4 * (known().to_s - known().from_s) / known().samples, half = Math.max((to - from) * factor, fewest);
  state.view = [Math.max(known().from_s, centre - half * around), Math.min(known().to_s, centre + half * (1 - around))];
  loadTrace();
}
export function pan(part) {
  if (!state.view || !known()) return;
  const length = state.view[1] - state.view[0];
  const from = Math.min(Math.max(state.view[0] + part * length, known().from_s), Math.max(known().from_s, known().to_s - length));
  state.view = [from, from + length];
  if (!showFromWide() || nearItsEnd()) loadTrace(true);
  clearTimeout(settle);
  settle = setTimeout(loadTrace, 150);
}

export function beginTraces() {
  at('recording').onchange = () => openRecording(at('recording').value);
  at('channel').onchange = () => showTrace();
  at('time').oninput = () => { stopPlaying(); state.place = at('time').value / 1000; showTrace(); };
  at('closer').onclick = () => zoom(0.5, state.place);
  at('wider').onclick = () => zoom(2);
  at('whole').onclick = () => openRecording(at('recording').value);
  const stop = () => { stopPlaying(); showTrace(); };  // with the words of where it stopped
  at('play').onclick = () => isPlaying() ? stop() : play(showTrace);
  at('virtual-stop').onclick = stop;
  at('hold').onclick = () => {
    const chosen = state.trace && chosenChannel();
    if (chosen) state.held = { t: timeHere(), channel: chosen.name, value: valueAt(state.trace, chosen.name, state.place) ?? 0 };
    showTrace();
  };
  const canvas = at('trace'), part = event => Math.max(0, Math.min(1, (event.offsetX - left) / (canvas.clientWidth - left - 8)));
  canvas.addEventListener('wheel', event => { event.preventDefault(); zoom(event.deltaY < 0 ? 0.7 : 1.4, part(event)); }, { passive: false });
  canvas.onkeydown = event => {
    const task = { '+': () => zoom(0.5, state.place), '-': () => zoom(2), ArrowLeft: () => pan(-0.25), ArrowRight: () => pan(0.25), Home: () => openRecording(at('recording').value) }[event.key];
    if (task) { event.preventDefault(); task(); }
  };
  let from = null, moved = false;
  canvas.onpointerdown = event => { from = event.clientX; moved = false; canvas.setPointerCapture(event.pointerId); };
  canvas.onpointermove = event => {
    if (from === null || Math.abs(event.clientX - from) < 2) return;
    const way = (from - event.clientX) / canvas.clientWidth;
    from = event.clientX; moved = true; pan(way);
  };
  canvas.onpointerup = event => { if (!moved) { stopPlaying(); state.place = part(event); at('time').value = 1000 * state.place; showTrace(); } from = null; };
}
