// The bridge from above, and playing what is drawn: a recording, or a run of the virtual gantry.
import { at, channelNamed, shown, state, valueAt } from './kit.js';

const svgName = 'http://www.w3.org/2000/svg';
function drawn(tag, attributes, text) {
  const element = document.createElementNS(svgName, tag);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text) element.textContent = text;
  return element;
}

// The largest of 1, 2, 5 times a power of ten that keeps the skew within a tenth of the picture.
function exaggeration(largest, room) {
  if (!(largest > 0)) return 1;
  const wanted = room / largest, power = 10 ** Math.floor(Math.log10(wanted));
  return Math.max(1, [5, 2, 1].map(step => step * power).find(factor => factor <= wanted));
}

const low = 190, high = 40, height = 230, left = 100;
let width = 720;  // drawing units, as many as pixels: words stay readable on a small screen

// Once a trace: playing draws it sixty times a second.
let framed = { trace: null };
function frameOf(trace, bridge) {
  if (framed.trace !== trace || framed.bridge !== bridge || framed.width !== width) framed = { trace, bridge, width, ...frame(trace, bridge) };
  return framed;
}

function frame(trace, bridge) {
  const skews = channelNamed(trace, 'skew');
  const ways = channelNamed(trace, 'position A') || channelNamed(trace, 'way');
  const numbers = channel => channel ? [...channel.low, ...channel.high].filter(Number.isFinite) : [];
  const along = numbers(ways), first = along.length ? Math.min(...along) : 0, last = along.length ? Math.max(...along) : 1;
  const across = (low - high) / bridge.span_m;
  const scale = Math.min(across, (width - 200) / Math.max(last - first, 1e-6));  // drawing units a metre; both ways alike where it fits
  return { first, scale, across, factor: exaggeration(Math.max(0, ...numbers(skews).map(Math.abs)), 40 / scale) };
}

function carriageParts(trace, bridge, xa, xb, ink, rim) {
  const recording = state.job.recordings.find(one => trace && one.name === trace.recording);
  const y = trace && trace.carriage_y_m !== undefined ? trace.carriage_y_m : recording ? recording.carriage_y_m : null;
  if (y === null || y === undefined) return [];
  const part = (y + bridge.span_m / 2) / bridge.span_m, x = xa + (xb - xa) * part, level = low + (high - low) * part;
  return [drawn('rect', { x: x - 16, y: level - 12, width: 32, height: 24, fill: rim, stroke: ink, rx: 3 }),
    drawn('text', { x: x + 22, y: level + 5, fill: ink, 'font-size': 13 }, 'carriage')];
}

// `told`: with its words too; while playing only now and then, since nobody reads sixty a second.
export function showBridge(told = true) {
  const box = at('bridge'), bridge = state.job.bridge, trace = state.trace, css = getComputedStyle(document.documentElement);
  const [ink, a, b, rim, quiet] = ['--ink', '--a', '--b', '--rim', '--quiet'].map(name => css.getPropertyValue(name));
  width = Math.max(320, box.clientWidth || 720);
  box.setAttribute('viewBox', `0 0 ${width} ${height}`);
  const value = name => valueAt(trace, name, state.place);
  const skew = value('skew'), error = value('skew error'), { first, scale, factor } = frameOf(trace, bridge);
  const way = value('way'), where = value('position A') ?? way;
  const middle = where === null ? width / 2 : left + (where - first) * scale;
  const shift = skew === null ? 0 : skew * factor * scale / 2;
  const xa = middle + shift, xb = middle - shift;
  const parts = [
    drawn('line', { x1: 20, x2: width - 20, y1: low, y2: low, stroke: a, 'stroke-width': 3 }),
    drawn('line', { x1: 20, x2: width - 20, y1: high, y2: high, stroke: b, 'stroke-width': 3, 'stroke-dasharray': '10 5' }),
    drawn('text', { x: 22, y: low + 24, fill: a, 'font-size': 15, 'font-weight': 700 }, 'A'),
    drawn('text', { x: 22, y: high - 10, fill: b, 'font-size': 15, 'font-weight': 700 }, 'B'),
    drawn('text', { x: width - 60, y: low + 24, fill: ink, 'font-size': 13 }, 'x →')];
  if (bridge.allowable_skew_m !== null && skew !== null) {  // how far it may lean, drawn as much too large as the skew
    const room = bridge.allowable_skew_m * factor * scale / 2;
    if (room < width) parts.push(drawn('path', { d: `M${middle + room} ${low}L${middle - room} ${high}M${middle - room} ${low}L${middle + room} ${high}`, stroke: quiet, 'stroke-width': 1.5, 'stroke-dasharray': '3 4', fill: 'none' }));
  }
  for (const [mark, level, colour, name] of [[trace && trace.mark_a_m, low, a, 'A'], [trace && trace.mark_b_m, high, b, 'B']])
    if (mark !== null && mark !== undefined && !trace.virtual) {
      const x = left + (mark - first) * scale;
      parts.push(drawn('path', { d: `M${x} ${level - 7}l6 7l-6 7l-6 -7Z`, fill: colour }), drawn('text', { x: x + 9, y: level + 18, fill: colour, 'font-size': 12 }, `mark ${name}`));
    }
  parts.push(drawn('line', { x1: xa, y1: low, x2: xb, y2: high, stroke: ink, 'stroke-width': 8, 'stroke-linecap': 'round' }),
    ...carriageParts(trace, bridge, xa, xb, ink, rim));
  for (const [name, x, level, colour, peak] of [['force A', xa, low, a, bridge.peak_force_a_n], ['force B', xb, high, b, bridge.peak_force_b_n]]) {
    const force = value(name);
    if (force === null || !peak) continue;
    const length = 90 * force / peak, end = x + length, head = Math.sign(length) * Math.min(9, Math.abs(length));
    parts.push(drawn('path', { d: `M${x} ${level}H${end}m${-head} -6l${head} 6l${-head} 6`, stroke: colour, 'stroke-width': 4, fill: 'none' }));
  }
  if (trace && trace.virtual) parts.push(drawn('text', { x: width / 2, y: 22, fill: ink, 'font-size': 14, 'font-weight': 700, 'text-anchor': 'middle' }, 'VIRTUAL'));
  box.replaceChildren(...parts);
  if (!told) return;
  const bits = [trace && trace.virtual ? `Virtual: ${trace.virtual}` : ''];
  if (skew !== null) bits.push(`skew ${shown(skew, 'm')}, drawn ${factor} times too large`);
  if (error !== null) bits.push(`skew error ${shown(error, 'm')}`);
  for (const side of ['A', 'B']) if (value(`force ${side}`) !== null) bits.push(`force ${side} ${shown(value(`force ${side}`), 'N')}`);
  if (bridge.allowable_skew_m !== null) bits.push(`allowable skew ${shown(bridge.allowable_skew_m, 'm')} (dotted)`);
  at('bridge-words').textContent = bits.filter(Boolean).join(' · ') || 'No recording with positions is chosen.';
  box.setAttribute('aria-label', `The bridge from above. ${bits.join(', ')}`);
}

// ---- playing, at the run's own pace or slowed so that it lasts two seconds
let playing = 0;
export function stopPlaying() {
  cancelAnimationFrame(playing);
  playing = 0;
  at('playing').textContent = 'The virtual gantry stands still.';
  at('play').textContent = 'Play';
}
export function play(show) {
  stopPlaying();
  const trace = state.trace;
  if (!trace) return;
  const length = trace.to_s - trace.from_s, lasts = Math.min(20, Math.max(2, length)), began = performance.now(), from = state.place >= 1 ? 0 : state.place;
  const pace = lasts / length, words = pace > 1.05 ? `, ${Number(pace.toPrecision(2))} times slower` : pace < 0.95 ? `, ${Number((1 / pace).toPrecision(2))} times faster` : '';
  at('playing').textContent = `Playing ${trace.virtual ? `the virtual gantry: ${trace.virtual}` : `recording ${trace.recording}`}${words}.`;
  at('play').textContent = 'Stop';
  let frames = 0;
  const step = now => {
    state.place = Math.min(1, from + Math.max(0, now - began) / 1000 / lasts);  // a frame's time may lie before the call
    at('time').value = 1000 * state.place;
    show(state.place < 1 && frames++ % 6 ? 'playing' : false);
    if (state.place < 1) playing = requestAnimationFrame(step); else stopPlaying();
  };
  playing = requestAnimationFrame(step);
}
export const isPlaying = () => playing !== 0;
