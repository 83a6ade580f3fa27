// The line of work: what to do now, each station's verdict, its findings, figures and numbers, and overrides.
import { ask, at, button, keyWords, made, offer, pairs, post, renew, shown, state, verdictClass, verdictWord } from './kit.js';
import { closerPart } from './figure.js';
import { showSheetPart } from './sheet.js';
import { openRecording } from './trace.js';

// The stations at work that this one waits for; none where it is at work itself.
const waitsFor = station => station.uses.filter(name => state.job.pending.includes(name));

function stateWord(station, result) {
  if (!state.job.pending.includes(station.name)) return verdictWord(result ? result.verdict : 'not done');
  return made('span', { className: 'word none' }, waitsFor(station).length ? '… waits' : '… at work');
}

export function showLine() {
  renew(at('line'), ...state.job.line.map(station => {
    const result = state.job.result.stations[station.name];
    const choose = made('button', { type: 'button', title: station.question },
      made('span', {}, station.name), stateWord(station, result));
    if (station.name === state.station) choose.setAttribute('aria-current', 'true');
    choose.onclick = () => { state.station = station.name; showLine(); showStation(); at('station-head').scrollIntoView({ block: 'nearest' }); };
    return made('li', {}, choose);
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
  if (rows.length) part.append(pairs(rows));
  if (finding.recording && state.job.recordings.some(r => r.name === finding.recording))
    part.append(button(`See it in ${finding.recording}`, () => {
      openRecording(finding.recording, finding.from_s, finding.to_s);
      at('bridge-head').scrollIntoView();
      at('trace').focus();
    }));
  return part;
}

// Each line of the check sheet is a decision of its own; another station's stops may be set aside together.
function offerStops(select, name, findings) {
  const open = findings.filter(one => one.verdict === 'stop');
  const choices = open.map(one => [`${name}.${one.id}`, one.id]);
  if (name !== 'ready') choices.unshift([name, 'all of this station']);
  offer(select, choices.map(([value]) => value));
  choices.forEach(([, words], i) => { select.options[i].textContent = words; });
}

// One form a station, kept with what is half typed in it while the page is renewed by news.
const overrideForms = new Map();
function overridePart(name, findings) {
  if (!overrideForms.has(name)) overrideForms.set(name, overrideForm());
  const form = overrideForms.get(name);
  offerStops(form.querySelector('select'), name, findings);
  return form;
}

function overrideForm() {
  const stop = made('select', { id: 'override-stop' });
  const reason = made('input', { id: 'override-reason', required: true });
  const who = made('input', { id: 'override-by', required: true, value: at('by').value });
  const words = made('p', { className: 'quiet', role: 'status' });
  const form = made('form', { id: 'override' }, made('h3', {}, 'Go on in spite of this stop'),
    made('p', {}, 'The record keeps the reason and shows it on its first page. The stop stays visible.'),
    made('label', {}, 'Stop ', stop), made('label', {}, 'Reason ', reason), made('label', {}, 'Who ', who), made('button', { type: 'submit' }, 'Set this stop aside'), words);
  form.onsubmit = async event => {
    event.preventDefault();
    words.textContent = 'writing …';
    try {
      await post('/record', { override: stop.value, reason: reason.value, by: who.value });
      words.textContent = 'Recorded.';
      reason.value = '';
    } catch (error) { words.textContent = error.message; }
  };
  return form;
}

// Drawn by the program itself, from numbers; asked for a station at a time, the last drawing standing meanwhile.
const drawings = new Map();
const place = (holder, svg) => { holder.querySelector('.drawing').innerHTML = svg; };
async function drawAnew(name, holders) {
  if (!holders.size) return;
  try {
    for (const [id, svg] of Object.entries(await ask(`/ask/drawings?station=${encodeURIComponent(name)}`))) {
      if (holders.has(id) && drawings.get(id) !== svg) place(holders.get(id), svg);
      drawings.set(id, svg);
    }
  } catch (error) { for (const holder of holders.values()) holder.querySelector('.drawing').textContent = error.message; }
}

export function showStation() {
  const name = state.station;
  const station = state.job.line.find(one => one.name === name);
  const result = state.job.result.stations[name];
  if (!station || !result) return;
  at('station-head').textContent = `${name}: ${station.question}`;
  const holders = new Map();
  const figures = (state.job.figures[name] || []).flatMap(figure => {
    const holder = made('figure', {}, made('div', { className: 'drawing' }), made('figcaption', {}, `${figure.title}. ${figure.caption}`));
    holders.set(figure.id, holder);
    if (drawings.has(figure.id)) place(holder, drawings.get(figure.id));
    return figure.closer ? [holder, closerPart(figure)] : [holder];
  });
  const values = Object.entries(result.values || {}).filter(([, item]) => typeof item.value === 'number')
    .map(([key, item]) => [keyWords(key), shown(item.value, item.unit) + interval(item)]);
  const parts = [...result.findings.map(findingPart)];
  for (const set of state.job.overrides.filter(one => one.station === name))
    parts.push(made('p', { className: 'attention' }, `Set aside by ${set.by}: ${set.reason} (${set.findings.join(', ')})`));
  if (station.open_stop) parts.push(overridePart(name, result.findings));
  if (state.job.pending.includes(name)) {
    const waits = waitsFor(station);
    parts.unshift(made('p', { className: 'attention' }, `${waits.length ? `This station uses ${waits.join(' and ')} and waits for ${waits.length > 1 ? 'them' : 'it'}.` : 'At work on what changed.'} Below stands what it said before.`));
  }
  if (values.length) parts.push(made('h3', {}, 'Numbers'), pairs(values));
  renew(at('station'), ...parts, ...figures);
  drawAnew(name, holders);
  showSheetPart();
}

export function showNext() {
  const next = state.job.next;
  const parts = [made('p', {}, made('strong', {}, next.what))];
  if (next.why) parts.push(made('p', {}, next.why));
  if (next.capture) parts.push(pairs(Object.entries(next.capture).filter(([key, words]) => key !== 'move' || `${words}.` !== next.what)));
  if (next.commands.length) parts.push(made('p', {}, `Commands from off: ${next.commands.join(' → ')}.`));
  if (next.holds_back.length) parts.push(made('p', { className: 'quiet' }, `Until then held back: ${next.holds_back.join(', ')}`));
  if (next.sharpen) parts.push(made('h3', {}, 'What would tell more'), made('p', {}, next.sharpen));
  if (next.cautions.length) parts.push(made('h3', {}, 'Before anything moves'), made('ul', {}, ...next.cautions.map(one => made('li', {}, one))));
  at('next').replaceChildren(...parts);
}
