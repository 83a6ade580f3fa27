// The line of work: what to do now, each station's verdict, its findings, figures and numbers, and overrides.
import { at, button, keyWords, made, pairs, post, shown, state, verdictClass, verdictWord } from './kit.js';
import { showSheetPart } from './sheet.js';
import { openRecording } from './trace.js';

export function showLine() {
  at('line').replaceChildren(...state.job.line.map(station => {
    const result = state.job.result.stations[station.name];
    const choose = made('button', { type: 'button', title: station.question },
      made('span', {}, station.name), state.job.pending.includes(station.name) ? made('span', { className: 'word none' }, '… at work') : verdictWord(result ? result.verdict : 'not done'));
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
function stopChoice(name, findings) {
  const open = findings.filter(one => one.verdict === 'stop');
  const choices = open.map(one => [`${name}.${one.id}`, one.id]);
  if (name !== 'ready') choices.unshift([name, 'all of this station']);
  return made('select', { id: 'override-stop' }, ...choices.map(([value, words]) => made('option', { value }, words)));
}

function overridePart(name, findings) {
  const stop = stopChoice(name, findings);
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
    } catch (error) { words.textContent = error.message; }
  };
  return form;
}

export function showStation() {
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
    .map(([key, item]) => [keyWords(key), shown(item.value, item.unit) + interval(item)]);
  const parts = [...result.findings.map(findingPart)];
  for (const set of state.job.overrides.filter(one => one.station === name))
    parts.push(made('p', { className: 'attention' }, `Set aside by ${set.by}: ${set.reason} (${set.findings.join(', ')})`));
  if (station.open_stop) parts.push(overridePart(name, result.findings));
  if (state.job.pending.includes(name)) parts.unshift(made('p', { className: 'attention' }, 'At work on what changed. Below stands what it said before.'));
  if (values.length) parts.push(made('h3', {}, 'Numbers'), pairs(values));
  at('station').replaceChildren(...parts, ...figures);
  showSheetPart();
}

export function showNext() {
  const next = state.job.next;
  const parts = [made('p', {}, made('strong', {}, next.what))];
  if (next.why) parts.push(made('p', {}, next.why));
  if (next.capture) parts.push(pairs(Object.entries(next.capture)));
  if (next.holds_back.length) parts.push(made('p', { className: 'quiet' }, `Until then held back: ${next.holds_back.join(', ')}`));
  if (next.cautions.length) parts.push(made('h3', {}, 'Before anything moves'), made('ul', {}, ...next.cautions.map(one => made('li', {}, one))));
  at('next').replaceChildren(...parts);
}
