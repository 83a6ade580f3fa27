// A station's figure looked at closer: its lines as the program gave them, zoomed along x, with values at the line,
// their bands, and differences from a held place. In the person's units already.
import { ask, button, made, offer } from './kit.js';

const left = 62, above = 26, below = 34, panelHeight = 210;
const rightOf = width => width < 500 ? 80 : 140;  // room for the lines' names
const looks = { 'side a': ['--a', [], 'dot'], 'side b': ['--b', [6, 4], 'cross'], mean: ['--ink', [9, 3, 1, 3], 'plus'], skew: ['--ink', [], 'dot'],
  measured: ['--ink', [], 'dot'], forecast: ['--a', [2, 3], 'ring'], other: ['--quiet', [4, 2], 'ring'] };

const number = value => value === null || value === undefined ? 'unknown'
  : value !== 0 && (Math.abs(value) < 1e-3 || Math.abs(value) >= 1e6) ? Number(value.toPrecision(4)).toExponential() : String(Number(value.toPrecision(4)));
const withUnit = (value, axis) => `${number(value)}${axis.unit ? ` ${axis.unit}` : ''}`;
const sameX = (a, b) => a.x.label === b.x.label && a.x.unit === b.x.unit && a.x.logarithmic === b.x.logarithmic;

// Along an axis: a number to its place and back; what has no place on a logarithmic one is NaN.
const inner = (axis, value) => axis.logarithmic ? (value > 0 ? Math.log10(value) : NaN) : value;
const outer = (axis, place) => axis.logarithmic ? 10 ** place : place;

function reach(axis, lists) {
  let low = Infinity, high = -Infinity;
  for (const list of lists) for (const value of list) {
    const place = value === null ? NaN : inner(axis, value);
    if (Number.isFinite(place)) { low = Math.min(low, place); high = Math.max(high, place); }
  }
  if (low > high) return [0, 1];
  return high - low > 1e-12 * Math.max(Math.abs(low), Math.abs(high)) ? [low, high] : [low - 0.5, high + 0.5];
}

// Round places: steps of 1, 2 or 5; on a logarithmic axis decades, with 2 and 5 between where few are shown.
function ticks(axis, from, to) {
  if (axis.logarithmic && to - from > 0.6) {
    const all = [];
    for (let decade = Math.floor(from); decade <= to; ++decade) for (const step of to - from < 2.5 ? [1, 2, 5] : [1]) all.push(step * 10 ** decade);
    return all.filter(value => Math.log10(value) >= from && Math.log10(value) <= to);
  }
  const [low, high] = [outer(axis, from), outer(axis, to)], power = 10 ** Math.floor(Math.log10((high - low) / 4));
  const step = [5, 2, 1].map(one => one * power).find(one => (high - low) / one >= 3) || power;
  const all = [];
  for (let k = Math.ceil(low / step); k * step <= high; ++k) all.push(k * step);
  return all;
}

// First and last index that the view shows, one beyond each edge; lines run to larger x.
function shownPart(line, axis, view) {
  let first = line.x.findIndex(x => inner(axis, x) >= view[0]), last = line.x.length - 1;
  while (last > 0 && inner(axis, line.x[last]) > view[1]) --last;
  if (first < 0) first = line.x.length;
  return [Math.max(0, first - 1), Math.min(line.x.length - 1, last + 1)];
}
function nearest(line, axis, place) {
  let best = -1, away = Infinity;
  line.x.forEach((x, i) => { const d = Math.abs(inner(axis, x) - place); if (d < away && line.y[i] !== null) { away = d; best = i; } });
  return best;
}

function drawMark(pen, shape, x, y) {
  pen.beginPath();
  if (shape === 'dot') { pen.arc(x, y, 2.2, 0, 7); pen.fill(); return; }
  if (shape === 'ring') pen.arc(x, y, 2.6, 0, 7);
  else if (shape === 'cross') { pen.moveTo(x - 3, y - 3); pen.lineTo(x + 3, y + 3); pen.moveTo(x - 3, y + 3); pen.lineTo(x + 3, y - 3); }
  else { pen.moveTo(x - 3.5, y); pen.lineTo(x + 3.5, y); pen.moveTo(x, y - 3.5); pen.lineTo(x, y + 3.5); }
  pen.stroke();
}

function drawLine(pen, line, part, x, y, ink) {
  const [, dash, shape] = looks[line.role] || looks.other, [first, last] = part, banded = line.lower.length === line.y.length && line.upper.length === line.y.length;
  pen.strokeStyle = pen.fillStyle = ink;
  if (banded && !line.points) {
    pen.globalAlpha = 0.18;
    pen.beginPath();
    for (let i = first; i <= last; ++i) if (line.upper[i] !== null) pen.lineTo(x(line.x[i]), y(line.upper[i]));
    for (let i = last; i >= first; --i) if (line.lower[i] !== null) pen.lineTo(x(line.x[i]), y(line.lower[i]));
    pen.fill();
    pen.globalAlpha = 1;
  }
  pen.lineWidth = 1.5;
  if (!line.points) pen.setLineDash(dash);
  pen.beginPath();
  let on = false;
  for (let i = first; i <= last; ++i) {
    const place = line.y[i] === null ? NaN : y(line.y[i]);
    if (!Number.isFinite(place)) { on = false; continue; }
    if (line.points) {
      if (banded && line.lower[i] !== null && line.upper[i] !== null) { pen.beginPath(); pen.moveTo(x(line.x[i]), y(line.lower[i])); pen.lineTo(x(line.x[i]), y(line.upper[i])); pen.stroke(); }
      drawMark(pen, shape, x(line.x[i]), place);
    } else if (on) pen.lineTo(x(line.x[i]), place); else pen.moveTo(x(line.x[i]), place);
    on = true;
  }
  if (!line.points) pen.stroke();
  pen.setLineDash([]);
}

// Beside the lines' ends, pushed apart where they would cover each other.
function labelLines(pen, labels, x, top, bottom, room) {
  labels.sort((a, b) => a.y - b.y);
  let least = top + 6;
  for (const label of labels) { label.y = Math.max(label.y, least); least = label.y + 14; }
  for (let i = labels.length - 1, most = bottom; i >= 0; --i) { labels[i].y = Math.min(labels[i].y, most); most = labels[i].y - 14; }
  for (const { words, ink, y } of labels) { pen.fillStyle = ink; pen.fillText(words, x, y + 4, room); }
}

function drawPanel(pen, panel, view, top, width, css) {
  const right = rightOf(width), plot = { x0: left, x1: width - right, y0: top + above, y1: top + panelHeight - below };
  const parts = panel.lines.map(line => shownPart(line, panel.x, view));
  const seen = panel.lines.flatMap((line, k) => [line.y, line.lower, line.upper].map(list => list.slice(parts[k][0], parts[k][1] + 1)));
  let [low, high] = reach(panel.y, seen);
  const air = 0.05 * (high - low);
  low -= air; high += air;
  const x = value => plot.x0 + (plot.x1 - plot.x0) * (inner(panel.x, value) - view[0]) / (view[1] - view[0]);
  const y = value => plot.y1 - (plot.y1 - plot.y0) * (inner(panel.y, value) - low) / (high - low);
  const rim = css.getPropertyValue('--rim'), ink = css.getPropertyValue('--ink'), quiet = css.getPropertyValue('--quiet');
  pen.lineWidth = 1; pen.font = '12px system-ui'; pen.strokeStyle = rim;
  pen.fillStyle = ink;
  pen.fillText(`${panel.y.label}${panel.y.unit ? `, ${panel.y.unit}` : ''}`, 4, top + 14);
  pen.fillText(`${panel.x.label}${panel.x.unit ? `, ${panel.x.unit}` : ''}`, plot.x1 + 8, plot.y1 + 18, right - 10);
  pen.fillStyle = quiet;
  for (const value of ticks(panel.y, low, high)) { pen.beginPath(); pen.moveTo(plot.x0, y(value)); pen.lineTo(plot.x1, y(value)); pen.stroke(); pen.fillText(number(value), 4, y(value) + 4, left - 8); }
  let taken = 0;
  for (const value of ticks(panel.x, ...view)) {
    pen.beginPath(); pen.moveTo(x(value), plot.y0); pen.lineTo(x(value), plot.y1); pen.stroke();
    const words = number(value), wide = pen.measureText(words).width, begin = x(value) - wide / 2;
    if (begin < taken || begin + wide > plot.x1 + 6) continue;
    pen.fillText(words, begin, plot.y1 + 18);
    taken = begin + wide + 6;
  }
  pen.save();
  pen.beginPath(); pen.rect(plot.x0, plot.y0, plot.x1 - plot.x0, plot.y1 - plot.y0); pen.clip();
  for (const band of panel.bands) {
    const [from, to] = [band.from, band.to], fill = pen.fillStyle;
    pen.fillStyle = quiet; pen.globalAlpha = 0.18;
    if (band.along_x) pen.fillRect(from === null ? plot.x0 : x(from), plot.y0, (to === null ? plot.x1 : x(to)) - (from === null ? plot.x0 : x(from)), plot.y1 - plot.y0);
    else { const upper = to === null ? plot.y0 : y(to), lower = from === null ? plot.y1 : y(from); pen.fillRect(plot.x0, upper, plot.x1 - plot.x0, lower - upper); }
    pen.globalAlpha = 1; pen.fillStyle = fill;
  }
  const labels = [];
  panel.lines.forEach((line, k) => {
    const colour = css.getPropertyValue((looks[line.role] || looks.other)[0]);
    drawLine(pen, line, parts[k], x, y, colour);
    let end = parts[k][1];
    while (end > parts[k][0] && (line.y[end] === null || x(line.x[end]) > plot.x1)) --end;
    const place = line.y[end] === null || line.y[end] === undefined ? plot.y0 : y(line.y[end]);
    const look = looks[line.role] || looks.other, sample = line.points ? { dot: '•', ring: '○', cross: '×', plus: '+' }[look[2]] : look[1].length ? '- -' : '—';
    labels.push({ words: `${sample} ${line.label}`, ink: colour, y: Number.isFinite(place) ? place : plot.y0 });
  });
  pen.restore();
  labelLines(pen, labels, plot.x1 + 8, plot.y0, plot.y1 - 4, right - 8);
  return plot;
}

// What the line stands at: each line's nearest point, its band, and how far it is from the held place.
function valuesAt(panel, place, held) {
  return panel.lines.flatMap(line => {
    const i = nearest(line, panel.x, place);
    if (i < 0) return [];
    let words = `${panel.y.label}, ${line.label || 'line'}: ${withUnit(line.y[i], panel.y)} at ${withUnit(line.x[i], panel.x)}`;
    if (line.lower.length && line.lower[i] !== null && line.upper[i] !== null) words += ` (${number(line.lower[i])} to ${withUnit(line.upper[i], panel.y)})`;
    const k = held === null ? -1 : nearest(line, panel.x, held);
    if (k >= 0) words += `; from the held place ${withUnit(line.x[i] - line.x[k], panel.x)}, ${withUnit(line.y[i] - line.y[k], panel.y)}${panel.y.logarithmic && line.y[k] > 0 ? `, ${number(line.y[i] / line.y[k])} times` : ''}`;
    return [made('li', {}, `${words}.`)];
  });
}

// One a figure, kept while the page is renewed by news; asks anew then, since the numbers may have changed.
const viewers = new Map();
export function closerPart(figure) {
  if (!viewers.has(figure.id)) viewers.set(figure.id, viewer(figure.id));
  const one = viewers.get(figure.id);
  one.readAgain();
  return one.element;
}

function viewer(id) {
  let data = null, view = null, whole = null, place = 0, held = null;
  const canvas = made('canvas', { tabIndex: 0, className: 'closer' }), words = made('ul', { className: 'plain', role: 'status' });
  canvas.setAttribute('role', 'img');
  const choice = made('select', {}), panels = () => data.panels.filter((panel, i) => choice.value === 'all' ? sameX(panel, data.panels[0]) : String(i) === choice.value);
  const element = made('details', { className: 'closer-part' });

  const draw = () => {
    if (!data || !element.open || !element.isConnected) return;
    const shown = panels(), ratio = window.devicePixelRatio || 1, css = getComputedStyle(document.documentElement);
    canvas.style.height = `${panelHeight * shown.length}px`;
    canvas.width = Math.round(canvas.clientWidth * ratio); canvas.height = Math.round(panelHeight * shown.length * ratio);
    const pen = canvas.getContext('2d'), width = canvas.clientWidth;
    pen.scale(ratio, ratio);
    shown.forEach((panel, k) => {
      const plot = drawPanel(pen, panel, view, k * panelHeight, width, css);
      for (const [where, dash] of [[place, []], ...(held === null ? [] : [[held, [2, 4]]])]) {
        const x = plot.x0 + (plot.x1 - plot.x0) * (where - view[0]) / (view[1] - view[0]);
        if (x < plot.x0 || x > plot.x1) continue;
        pen.strokeStyle = css.getPropertyValue('--stop'); pen.setLineDash(dash); pen.lineWidth = 1.3;
        pen.beginPath(); pen.moveTo(x, plot.y0); pen.lineTo(x, plot.y1); pen.stroke(); pen.setLineDash([]);
      }
    });
    words.replaceChildren(...shown.flatMap(panel => valuesAt(panel, place, held)));
    canvas.setAttribute('aria-label', `${data.title}. Plus and minus zoom, arrow keys move the line, comma and point move the view. Values are below.`);
  };
  const showWhole = () => {
    whole = reach(panels()[0].x, panels().flatMap(panel => panel.lines.map(line => line.x)));
    view = [...whole]; place = (view[0] + view[1]) / 2; held = null;
    draw();
  };
  const within = (from, length) => { const begin = Math.min(Math.max(from, whole[0]), Math.max(whole[0], whole[1] - length)); view = [begin, Math.min(whole[1], begin + length)]; };
  const zoom = (factor, around) => { const length = Math.min(whole[1] - whole[0], Math.max((view[1] - view[0]) * factor, 1e-4 * (whole[1] - whole[0]))), part = (around - view[0]) / (view[1] - view[0]); within(around - part * length, length); draw(); };
  const step = part => { const length = view[1] - view[0]; place = Math.min(view[1], Math.max(view[0], place + part * length)); draw(); };
  const pan = part => { const length = view[1] - view[0]; within(view[0] + part * length, length); draw(); };
  const hold = () => { held = held === null ? place : null; draw(); };
  const readAgain = async () => {
    if (!element.open) return;
    try {
      const first = data === null;
      data = await ask(`/ask/figure?id=${encodeURIComponent(id)}`);
      const names = ['all', ...data.panels.map((panel, i) => String(i))];
      offer(choice, names);
      names.forEach((name, i) => { choice.options[i].textContent = i ? `${data.panels[i - 1].y.label}${data.panels[i - 1].y.unit ? `, ${data.panels[i - 1].y.unit}` : ''}` : 'all'; });
      if (first) showWhole(); else draw();
    } catch (error) { words.replaceChildren(made('li', {}, error.message)); }
  };

  const plotWidth = () => Math.max(1, canvas.clientWidth - left - rightOf(canvas.clientWidth));
  const placeOf = event => view[0] + (view[1] - view[0]) * (event.offsetX - left) / plotWidth();
  canvas.addEventListener('wheel', event => { if (!data) return; event.preventDefault(); zoom(event.deltaY < 0 ? 0.8 : 1.25, placeOf(event)); }, { passive: false });
  canvas.onkeydown = event => {
    const task = { '+': () => zoom(0.6, place), '-': () => zoom(1.7, place), ArrowLeft: () => step(-0.01), ArrowRight: () => step(0.01), ',': () => pan(-0.25), '.': () => pan(0.25), Home: showWhole, h: hold }[event.key];
    if (task && data) { event.preventDefault(); task(); }
  };
  let from = null, moved = false;
  canvas.onpointerdown = event => { from = event.clientX; moved = false; canvas.setPointerCapture(event.pointerId); };
  canvas.onpointermove = event => { if (from === null || !data || Math.abs(event.clientX - from) < 3) return; pan((from - event.clientX) / plotWidth()); from = event.clientX; moved = true; };
  canvas.onpointerup = event => { if (!moved && data) { place = Math.min(view[1], Math.max(view[0], placeOf(event))); draw(); } from = null; };
  choice.onchange = showWhole;
  element.ontoggle = () => data ? draw() : readAgain();
  addEventListener('resize', draw);
  element.append(made('summary', {}, 'Look closer'),
    made('div', { className: 'row' }, made('label', {}, 'Show ', choice), button('Closer', () => zoom(0.6, place)), button('Wider', () => zoom(1.7, place)), button('Whole', showWhole), button('Hold this place', hold)),
    canvas, words);
  return { element, readAgain };
}
