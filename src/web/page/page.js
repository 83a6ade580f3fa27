// The page: shows what the program computed, and draws it. No physics here.
'use strict';

const token = new URLSearchParams(location.search).get('token') || '';
const at = id => document.getElementById(id);
const state = { job: null, station: null, revision: -1, trace: null, view: null, channel: null, place: 0 };

async function ask(path, options = {}) {
  const answer = await fetch(path, { ...options, headers: { 'X-Evenbeam-Token': token, ...(options.headers || {}) } });
  const json = await answer.json();
  if (!answer.ok) throw new Error(json.message || answer.statusText);
  return json;
}

function made(tag, properties = {}, ...children) {
  const element = document.createElement(tag);
  for (const [key, value] of Object.entries(properties))
    if (key in element) element[key] = value; else element.setAttribute(key, value);
  element.append(...children);
  return element;
}

// ---- units: SI in, the person's out; only a factor and the digits
const shownUnits = { m: { mm: 1e3, um: 1e6, m: 1, in: 1 / 0.0254 }, N: { N: 1, kN: 1e-3 } };
function shown(value, unit) {
  if (value === null || value === undefined || !Number.isFinite(value)) return 'unknown';
  let factor = 1, symbol = unit === '1' ? '' : unit || '';
  if (unit === 'm') {
    symbol = state.job.units.length;
    if (symbol === 'mm' && Math.abs(value) < 5e-4) symbol = 'um';
    factor = shownUnits.m[symbol] || 1;
    if (!(symbol in shownUnits.m)) symbol = 'm';
  }
  const number = value * factor;
  const digits = Math.abs(number) >= 1e5 || (number !== 0 && Math.abs(number) < 1e-3) ? number.toExponential(3) : String(Number(number.toPrecision(4)));
  return symbol ? `${digits} ${symbol.replace('um', 'µm')}` : digits;
}

// ---- verdict and line of work
const verdictClass = verdict => verdict === 'not done' ? 'none' : verdict;
const verdictSign = { pass: '✓', attention: '!', stop: '✕', 'not done': '–' };
function verdictWord(verdict) {
  return made('span', { className: `word ${verdictClass(verdict)}` }, `${verdictSign[verdict]} ${verdict}`);
}

function showLine() {
  at('line').replaceChildren(...state.job.line.map(station => {
    const result = state.job.result.stations[station.name];
    const button = made('button', { type: 'button', title: station.question },
      made('span', {}, station.name), verdictWord(result ? result.verdict : 'not done'));
    if (station.name === state.station) button.setAttribute('aria-current', 'true');
    button.onclick = () => { state.station = station.name; showLine(); showStation(); at('station-head').scrollIntoView({ block: 'nearest' }); };
    return made('li', {}, button);
  }));
}

function interval(item) {
  if (item.lower === null || item.upper === null || item.lower === undefined) return '';
  return ` (${shown(item.lower, item.unit)} to ${shown(item.upper, item.unit)})`;
}

function findingPart(finding) {
  const part = made('article', { className: `finding ${verdictClass(finding.verdict)}` }, verdictWord(finding.verdict), made('p', {}, finding.text));
  const rows = [];
  if (finding.value !== null) rows.push(['number', shown(finding.value, finding.unit) + interval(finding)]);
  if (finding.limit !== null) rows.push(['held against', shown(finding.limit, finding.unit)]);
  if (finding.source) rows.push(['from', finding.source]);
  if (finding.next) rows.push(['next', finding.next]);
  if (rows.length) part.append(made('dl', {}, ...rows.flatMap(([key, value]) => [made('dt', {}, key), made('dd', {}, value)])));
  if (finding.recording && state.job.recordings.some(r => r.name === finding.recording)) {
    const see = made('button', { type: 'button' }, `See it in ${finding.recording}`);
    see.onclick = () => { openRecording(finding.recording, finding.from_s, finding.to_s); at('bridge-head').scrollIntoView(); at('trace').focus(); };
    part.append(see);
  }
  return part;
}

function overridePart(name) {
  const reason = made('input', { id: 'override-reason', required: true });
  const who = made('input', { id: 'override-by', required: true, value: at('by').value });
  const words = made('p', { className: 'quiet', role: 'status' });
  const form = made('form', {}, made('h3', {}, 'Go on in spite of this stop'),
    made('p', {}, 'The record keeps the reason and shows it on its first page. The stop stays visible.'),
    made('label', {}, 'Reason ', reason), made('label', {}, 'Who ', who), made('button', { type: 'submit' }, 'Set this stop aside'), words);
  form.onsubmit = async event => {
    event.preventDefault();
    try {
      await ask('/record', { method: 'POST', body: JSON.stringify({ override: name, reason: reason.value, by: who.value }) });
      words.textContent = 'Recorded.';
    } catch (error) { words.textContent = error.message; }
  };
  return form;
}

function showStation() {
  const name = state.station;
  const station = state.job.line.find(one => one.name === name);
  const result = state.job.result.stations[name];
  if (!station || !result) return;
  at('station-head').textContent = `${name}: ${station.question}`;
  const figures = (state.job.figures[name] || []).map(figure => {
    const holder = made('figure', {});
    holder.innerHTML = figure.svg;  // drawn by the program itself, from numbers
    holder.append(made('figcaption', {}, `${figure.title}. ${figure.caption}`));
    return holder;
  });
  const values = Object.entries(result.values || {}).filter(([, item]) => typeof item.value === 'number')
    .flatMap(([key, item]) => [made('dt', {}, key), made('dd', {}, shown(item.value, item.unit) + interval(item))]);
  const parts = [...result.findings.map(findingPart)];
  const set = state.job.overrides.find(one => one.station === name);
  if (set) parts.push(made('p', { className: 'attention' }, `Set aside by ${set.by}: ${set.reason}`));
  if (station.open_stop) parts.push(overridePart(name));
  if (values.length) parts.push(made('h3', {}, 'Numbers'), made('dl', {}, ...values));
  at('station').replaceChildren(...parts, ...figures);
}

function showNext() {
  const next = state.job.next;
  const parts = [made('p', {}, made('strong', {}, next.what))];
  if (next.why) parts.push(made('p', {}, next.why));
  if (next.capture) parts.push(made('dl', {}, ...Object.entries(next.capture).flatMap(([key, value]) => [made('dt', {}, key), made('dd', {}, value)])));
  if (next.holds_back.length) parts.push(made('p', { className: 'quiet' }, `Until then held back: ${next.holds_back.join(', ')}`));
  if (next.cautions.length) parts.push(made('h3', {}, 'Before anything moves'), made('ul', {}, ...next.cautions.map(one => made('li', {}, one))));
  at('next').replaceChildren(...parts);
}

// ---- the bridge from above
const svgName = 'http://www.w3.org/2000/svg';
function drawn(tag, attributes, text) {
  const element = document.createElementNS(svgName, tag);
  for (const [key, value] of Object.entries(attributes)) element.setAttribute(key, value);
  if (text) element.textContent = text;
  return element;
}

function channelNamed(name) { return state.trace && state.trace.channels.find(channel => channel.name === name); }
function valueAt(name) {
  const channel = channelNamed(name);
  if (!channel || !channel.low.length) return null;
  const i = Math.min(channel.low.length - 1, Math.round(state.place * (channel.low.length - 1)));
  return channel.low[i] === null ? null : (channel.low[i] + channel.high[i]) / 2;
}

// The largest of 1, 2, 5 times a power of ten that keeps the skew within a tenth of the picture.
function exaggeration(largest, room) {
  if (!(largest > 0)) return 1;
  const wanted = room / largest, power = 10 ** Math.floor(Math.log10(wanted));
  return Math.max(1, [5, 2, 1].map(step => step * power).find(factor => factor <= wanted));
}

function showBridge() {
  const box = at('bridge'), bridge = state.job.bridge, css = getComputedStyle(document.documentElement);
  const ink = css.getPropertyValue('--ink'), a = css.getPropertyValue('--a'), b = css.getPropertyValue('--b'), rim = css.getPropertyValue('--rim');
  const width = 720, height = 230, low = 190, high = 40;
  box.setAttribute('viewBox', `0 0 ${width} ${height}`);
  const skew = valueAt('skew'), where = valueAt('position A');
  const channel = channelNamed('skew'), error = valueAt('skew error');
  const largest = channel ? Math.max(...channel.high.map(Math.abs), ...channel.low.map(Math.abs)) : 0;
  const positions = channelNamed('position A');
  const first = positions ? Math.min(...positions.low) : 0, last = positions ? Math.max(...positions.high) : 1;
  const scale = (low - high) / bridge.span_m;  // drawing units a metre, both ways alike where there is room
  const along = Math.min(scale, 520 / Math.max(last - first, 1e-6));
  const factor = exaggeration(largest, 40 / along);
  const middle = where === null ? width / 2 : 100 + (where - first) * along;
  const shift = skew === null ? 0 : skew * factor * along / 2;
  const xa = middle + shift, xb = middle - shift;
  const y = place => low - (place + bridge.span_m / 2) * scale;
  const parts = [
    drawn('line', { x1: 20, x2: width - 20, y1: low, y2: low, stroke: a, 'stroke-width': 3 }),
    drawn('line', { x1: 20, x2: width - 20, y1: high, y2: high, stroke: b, 'stroke-width': 3, 'stroke-dasharray': '10 5' }),
    drawn('text', { x: 22, y: low + 24, fill: a, 'font-size': 15, 'font-weight': 700 }, 'A'),
    drawn('text', { x: 22, y: high - 10, fill: b, 'font-size': 15, 'font-weight': 700 }, 'B'),
    drawn('line', { x1: xa, y1: low, x2: xb, y2: high, stroke: ink, 'stroke-width': 8, 'stroke-linecap': 'round' }),
    drawn('text', { x: width - 90, y: low + 24, fill: ink, 'font-size': 13 }, 'x →'),
  ];
  const recording = state.job.recordings.find(one => state.trace && one.name === state.trace.recording);
  const carriage = recording && recording.carriage_y_m !== null ? recording.carriage_y_m : null;
  if (carriage !== null) {
    const part = (carriage + bridge.span_m / 2) / bridge.span_m;
    parts.push(drawn('rect', { x: xa + (xb - xa) * part - 16, y: y(carriage) - 12, width: 32, height: 24, fill: rim, stroke: ink, rx: 3 }),
      drawn('text', { x: xa + (xb - xa) * part + 22, y: y(carriage) + 5, fill: ink, 'font-size': 13 }, 'carriage'));
  }
  for (const [name, x, level, colour, peak] of [['force A', xa, low, a, bridge.peak_force_a_n], ['force B', xb, high, b, bridge.peak_force_b_n]]) {
    const force = valueAt(name);
    if (force === null || !peak) continue;
    const length = 90 * force / peak, end = x + length, head = Math.sign(length) * Math.min(9, Math.abs(length));
    parts.push(drawn('path', { d: `M${x} ${level}H${end}m${-head} -6l${head} 6l${-head} 6`, stroke: colour, 'stroke-width': 4, fill: 'none' }));
  }
  box.replaceChildren(...parts);
  const bits = [];
  if (skew !== null) bits.push(`skew ${shown(skew, 'm')}, drawn ${factor} times too large`);
  if (error !== null) bits.push(`skew error ${shown(error, 'm')}`);
  for (const side of ['A', 'B']) if (valueAt(`force ${side}`) !== null) bits.push(`force ${side} ${shown(valueAt(`force ${side}`), 'N')}`);
  if (bridge.allowable_skew_m !== null) bits.push(`allowable skew ${shown(bridge.allowable_skew_m, 'm')}`);
  at('bridge-words').textContent = bits.join(' · ') || 'No recording with positions is chosen.';
  box.setAttribute('aria-label', `The bridge from above. ${bits.join(', ')}`);
}

// ---- traces
function drawTrace(canvas, channel, from, to, marker) {
  const ratio = window.devicePixelRatio || 1, width = canvas.clientWidth, height = canvas.clientHeight;
  canvas.width = width * ratio; canvas.height = height * ratio;
  const pen = canvas.getContext('2d'), css = getComputedStyle(document.documentElement);
  pen.scale(ratio, ratio);
  pen.clearRect(0, 0, width, height);
  if (!channel || !channel.low.length) return;
  const numbers = [...channel.low, ...channel.high].filter(Number.isFinite);
  let least = Math.min(...numbers), most = Math.max(...numbers);
  if (most - least < 1e-12) { least -= 1e-9; most += 1e-9; }
  const left = 84, bottom = height - 22, top = 8, right = width - 8;
  const x = i => left + (right - left) * i / Math.max(1, channel.low.length - 1);
  const y = value => bottom - (bottom - top) * (value - least) / (most - least);
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
  if (marker !== null) {
    const place = left + marker * (right - left);
    pen.strokeStyle = css.getPropertyValue('--stop'); pen.beginPath(); pen.moveTo(place, top); pen.lineTo(place, bottom); pen.stroke();
  }
}

function showTrace() {
  const trace = state.trace;
  if (!trace) return;
  const chosen = channelNamed(at('channel').value) || trace.channels[0];
  drawTrace(at('trace'), chosen, trace.from_s, trace.to_s, state.place);
  const t = trace.from_s + state.place * (trace.to_s - trace.from_s);
  at('time-words').textContent = `${t.toFixed(4)} s`;
  const drawnSingly = chosen && trace.samples <= chosen.low.length;
  at('trace-words').textContent = chosen
    ? `${chosen.name} ${shown(valueAt(chosen.name), chosen.unit)} at the line; ${trace.samples} samples${drawnSingly ? ', each drawn' : ', lowest and highest of each column drawn'}.` : 'This recording has nothing to draw.';
  showBridge();
}

async function openRecording(name, from, to) {
  at('recording').value = name;
  const known = state.job.recordings.find(one => one.name === name);
  if (!known) return;
  state.view = from !== null && from !== undefined && to > from ? [from, to] : [known.from_s, known.to_s];
  await loadTrace();
}

let asked = 0;
async function loadTrace() {
  const name = at('recording').value;
  if (!name || !state.view) return;
  const number = ++asked, columns = Math.max(200, Math.round(at('trace').clientWidth));
  try {
    const trace = await ask(`/ask/trace?recording=${encodeURIComponent(name)}&from=${state.view[0]}&to=${state.view[1]}&columns=${columns}`);
    if (number !== asked) return;  // a newer question is under way
    state.trace = trace;
    const before = at('channel').value;
    at('channel').replaceChildren(...trace.channels.map(channel => made('option', { value: channel.name }, channel.name)));
    if (trace.channels.some(channel => channel.name === before)) at('channel').value = before;
    showTrace();
  } catch (error) { at('trace-words').textContent = error.message; }
}

function zoom(factor, around = 0.5) {
  if (!state.view) return;
  const known = state.job.recordings.find(one => one.name === at('recording').value);
  const [from, to] = state.view, centre = from + around * (to - from), half = (to - from) * factor;
  state.view = [Math.max(known.from_s, centre - half * around), Math.min(known.to_s, centre + half * (1 - around))];
  loadTrace();
}

function pan(part) {
  if (!state.view) return;
  const known = state.job.recordings.find(one => one.name === at('recording').value);
  const length = state.view[1] - state.view[0];
  const from = Math.min(Math.max(state.view[0] + part * length, known.from_s), Math.max(known.from_s, known.to_s - length));
  state.view = [from, from + length];
  loadTrace();
}

// ---- trying settings
let tryNumber = 0;
async function tryNow() {
  for (const input of at('try').querySelectorAll('input[type=range]')) input.nextElementSibling.textContent = input.value;
  const number = ++tryNumber;
  const body = { move: at('try-move').value, mean_gain: +at('try-mean').value, skew_gain: +at('try-skew').value,
    carriage_y_m: +at('try-y').value, payload_kg: +at('try-payload').value };
  try {
    const tried = await ask('/ask/forecast', { method: 'POST', body: JSON.stringify(body) });
    if (number !== tryNumber) return;
    if (!tried.stable) {
      at('tried').replaceChildren(made('p', { className: 'stop' }, made('strong', {}, '✕ unstable: these loops would run away.')));
      drawTrace(at('tried-trace'), null, 0, 1, null);
      return;
    }
    const over = tried.allowable_skew_m !== null && tried.peak_skew_m > tried.allowable_skew_m;
    const weak = tried.peak_sensitivity > 1.7;
    at('tried').replaceChildren(
      made('p', { className: over || weak ? 'stop' : 'pass' }, made('strong', {}, `${over ? '✕' : weak ? '!' : '✓'} peak skew error ${shown(tried.peak_skew_m, 'm')}`)),
      made('dl', {}, made('dt', {}, 'allowable skew'), made('dd', {}, shown(tried.allowable_skew_m, 'm')),
        made('dt', {}, 'peak sensitivity'), made('dd', {}, `${shown(tried.peak_sensitivity, '1')} (at most 1.7 promised)`),
        made('dt', {}, 'guide moment'), made('dd', {}, `${shown(tried.peak_guide_moment_n_m, 'N·m')} of ${shown(tried.allowable_yaw_moment_n_m, 'N·m')} allowed`),
        made('dt', {}, 'largest force'), made('dd', {}, `${(100 * tried.peak_force_part).toFixed(0)} % of peak`),
        made('dt', {}, 'settles in'), made('dd', {}, shown(tried.settle_s, 's')),
        made('dt', {}, 'share of A'), made('dd', {}, shown(tried.share, '1'))),
      made('p', { className: 'quiet' }, 'The fitted model alone: cogging, pitch error and what was not measured are not in it.'));
    drawTrace(at('tried-trace'), tried.channels[0] || null, tried.from_s, tried.to_s, null);
  } catch (error) { if (number === tryNumber) at('tried').replaceChildren(made('p', {}, error.message)); }
}

function showTry() {
  at('try-part').hidden = !state.job.can_try;
  if (!state.job.can_try) return;
  const before = at('try-move').value, bridge = state.job.bridge;
  at('try-move').replaceChildren(...state.job.moves_to_try.map(name => made('option', { value: name }, name)));
  if (state.job.moves_to_try.includes(before)) at('try-move').value = before;
  at('try-y').min = bridge.carriage_min_y_m; at('try-y').max = bridge.carriage_max_y_m;
  if (!before) at('try-y').value = 0;
  tryNow();
}

// ---- keeping up
async function refresh() {
  const job = await ask('/ask/job');
  at('trouble').hidden = !job.trouble;
  at('trouble').textContent = job.trouble;
  state.revision = job.revision;
  if (!job.result) return;
  state.job = job;
  document.title = `${job.job}: ${job.verdict}`;
  at('job').textContent = job.job;
  at('verdict').className = `verdict ${verdictClass(job.verdict)}`;
  at('verdict').textContent = `${verdictSign[job.verdict]} ${job.verdict}`;
  at('report').href = `/report?token=${token}`;
  if (!state.station) state.station = job.next.station || job.line[0].name;
  showNext(); showLine(); showStation();
  const before = at('recording').value;
  at('recording').replaceChildren(...job.recordings.map(one => made('option', { value: one.name }, one.name)));
  if (job.recordings.length) await openRecording(job.recordings.some(one => one.name === before) ? before : job.recordings[job.recordings.length - 1].name);
  else showBridge();
  showTry();
}

function listen() {
  const news = new EventSource(`/ask/news?token=${token}`);
  news.onmessage = event => {
    at('cut').hidden = true;
    const { revision, doing } = JSON.parse(event.data);
    at('doing').textContent = doing ? `${doing} …` : '';
    if (revision !== state.revision && revision > 0) refresh().catch(error => { at('trouble').hidden = false; at('trouble').textContent = error.message; });
  };
  news.onerror = () => {
    at('cut').hidden = false;
    if (news.readyState === EventSource.CLOSED) setTimeout(listen, 2000);
  };
}

async function take(files) {
  for (const file of files) {
    at('drop-words').textContent = `${file.name}: sending`;
    try {
      await ask(`/captures/${encodeURIComponent(file.name)}`, { method: 'PUT', body: file });
      at('drop-words').textContent = `${file.name} is kept; it is being evaluated.`;
    } catch (error) { at('drop-words').textContent = error.message; return; }
  }
}

function begin() {
  at('recording').onchange = () => openRecording(at('recording').value);
  at('channel').onchange = showTrace;
  at('time').oninput = () => { state.place = at('time').value / 1000; showTrace(); };
  at('closer').onclick = () => zoom(0.5, state.place);
  at('wider').onclick = () => zoom(2);
  at('whole').onclick = () => openRecording(at('recording').value);
  const trace = at('trace');
  trace.onwheel = event => { event.preventDefault(); zoom(event.deltaY < 0 ? 0.7 : 1.4, Math.max(0, Math.min(1, (event.offsetX - 84) / (trace.clientWidth - 92)))); };
  trace.onkeydown = event => {
    const task = { '+': () => zoom(0.5, state.place), '-': () => zoom(2), ArrowLeft: () => pan(-0.25), ArrowRight: () => pan(0.25), Home: () => openRecording(at('recording').value) }[event.key];
    if (task) { event.preventDefault(); task(); }
  };
  let held = null;
  trace.onpointerdown = event => { held = event.clientX; trace.setPointerCapture(event.pointerId); };
  trace.onpointermove = event => { if (held === null) return; const part = (held - event.clientX) / trace.clientWidth; if (Math.abs(part) > 0.02) { held = event.clientX; pan(part); } };
  trace.onpointerup = () => { held = null; };
  at('try').oninput = () => { clearTimeout(begin.wait); begin.wait = setTimeout(tryNow, 30); };
  at('try').onreset = () => setTimeout(tryNow);
  at('files').onchange = () => take(at('files').files);
  const drop = at('drop');
  drop.ondragover = event => { event.preventDefault(); drop.classList.add('over'); };
  drop.ondragleave = () => drop.classList.remove('over');
  drop.ondrop = event => { event.preventDefault(); drop.classList.remove('over'); take(event.dataTransfer.files); };
  at('record').onsubmit = async event => {
    event.preventDefault();
    at('record-words').textContent = 'writing …';
    try {
      const done = await ask('/record', { method: 'POST', body: JSON.stringify({ by: at('by').value }) });
      at('record-words').textContent = `Entry ${done.entry}; written: ${done.files.join(', ')}. ${done.remarks.join(' ')}`;
    } catch (error) { at('record-words').textContent = error.message; }
  };
  addEventListener('resize', () => { if (state.job) { loadTrace(); tryNow(); } });
  listen();
}
begin();
