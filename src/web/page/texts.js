// The files a person writes: machine.toml and its like, and what the columns of a capture are.
import { ask, at, button, made, offer, post, state } from './kit.js';

// ---- texts, checked by the program before they are kept; two windows never overwrite each other
let open = null;  // { name, seen, text as read }
const drafts = new Map();  // by name: what was typed and is not kept yet, with what it was typed over
const before = new Map();  // by name: the text that stood before this window kept another
const unkept = () => open !== null && at('text').value !== open.text;

function showTroubles(troubles, message) {
  const list = (troubles || []).map(trouble => {
    const item = made('li', {}, `${trouble.line ? `Line ${trouble.line}: ` : ''}found ${trouble.found}; expected ${trouble.expected}. ${trouble.next} `);
    if (trouble.line) item.append(button('Go there', () => goToLine(trouble.line)));
    return item;
  });
  at('text-words').textContent = list.length ? 'Not kept:' : message;
  at('text-troubles').replaceChildren(...list);
}

function goToLine(line) {
  const box = at('text'), lines = box.value.split('\n');
  const from = lines.slice(0, line - 1).reduce((sum, one) => sum + one.length + 1, 0);
  box.focus();
  box.setSelectionRange(from, from + (lines[line - 1] || '').length);
  box.scrollTop = (line - 4) * 20;
}

async function chooseText() {
  if (unkept()) drafts.set(open.name, { ...open, typed: at('text').value });
  const draft = drafts.get(at('text-name').value);
  if (!draft) return readText();
  open = draft;
  at('text').value = draft.typed;
  showTroubles([], `What you typed into ${draft.name}, not kept yet. Read again gives the file as it stands.`);
}

async function readText() {
  drafts.delete(at('text-name').value);
  const shown = at('text').value;
  try {
    const got = await ask(`/ask/text?name=${encodeURIComponent(at('text-name').value)}`);
    if (open && at('text').value !== shown) {  // typed while it was on its way
      if (open.name === got.name) { showTroubles([], 'You typed while the file was read; what you typed stands.'); return; }
      drafts.set(open.name, { ...open, typed: at('text').value });
    }
    open = { name: got.name, seen: got.seen, text: got.text };
    at('text').value = got.text;
    showTroubles([], got.there ? `${got.name} as it stands.` : `${got.name} is not there yet; keep a text to begin it.`);
  } catch (error) { showTroubles([], error.message); }
}

async function keepText() {
  if (!open) return;
  try {
    const kept = await ask(`/texts/${encodeURIComponent(open.name)}`, { method: 'PUT', body: JSON.stringify({ text: at('text').value, seen: open.seen }) });
    before.set(kept.name, open.text);
    drafts.delete(kept.name);
    open = { name: kept.name, seen: kept.seen, text: kept.text };
    showTroubles([], `${open.name} is kept; the job is looked at anew.`);
  } catch (error) { showTroubles(error.answer && error.answer.troubles, error.message); }
}

function putBack() {
  if (!open || !before.has(open.name)) { showTroubles([], 'This window has kept no other text of this file.'); return; }
  at('text').value = before.get(open.name);
  showTroubles([], 'What stood before you kept the last text. It is not written until you check and keep it.');
}

export function showTexts() {
  offer(at('text-name'), state.job.texts);
}
export async function openText(name) {
  at('texts-part').open = true;
  at('text-name').value = name;
  await chooseText();
  at('text').focus();
}

// ---- what the columns of a capture are
const roles = ['?', 'ignored', 'time', 'reference_a', 'reference_b', 'reference_both', 'position_a', 'position_b', 'output_a', 'output_b', 'latched_a', 'latched_b', 'reference_y', 'position_y'];
const kinds = ['unknown', 'nudge', 'multisine', 'search', 'test_move', 'slow_jog', 'skew_step', 'fault', 'one_side', 'standstill', 'enabling', 'circle'];
const option = (word, chosen, words = word) => made('option', { value: word, selected: word === chosen }, words);

function columnRow(column, i) {
  const known = roles.includes(column.role) ? roles : [...roles, column.role];
  return made('tr', {}, made('th', { scope: 'row' }, column.name), made('td', { className: 'quiet' }, column.first.join(', ')),
    made('td', {}, made('select', { name: `role-${i}`, 'aria-label': `What ${column.name} is` }, ...known.map(word => option(word, column.role, word === '?' ? 'choose' : word.replaceAll('_', ' '))))),
    made('td', {}, made('input', { name: `unit-${i}`, value: column.unit, size: 8, placeholder: 'unit', 'aria-label': `Unit of ${column.name}` })));
}

export async function askColumns(file) {
  const holder = at('columns');
  try {
    const capture = await ask(`/ask/capture?file=${encodeURIComponent(file)}`);
    if (!capture.columns.length || capture.by_person) {
      holder.replaceChildren(made('p', {}, capture.trouble || `${file} has an entry of your own in recordings.toml.`), button('Open recordings.toml', () => openText('recordings.toml')));
      return;
    }
    const number = (name, words, value) => made('label', {}, words, made('input', { name, inputMode: 'decimal', value: value ?? '' }));
    const words = made('p', { className: 'quiet', role: 'status' });
    const form = made('form', { id: 'columns-form' }, made('h3', {}, `What is in ${file}?`), capture.trouble ? made('p', { className: 'attention' }, capture.trouble) : '',
      made('div', { className: 'wide' }, made('table', {}, made('thead', {}, made('tr', {}, ...['column', 'first rows', 'is', 'unit (s, ms, mm, um, count, %, N, A)'].map(head => made('th', { scope: 'col' }, head)))),
        made('tbody', {}, ...capture.columns.map(columnRow)))),
      made('label', {}, 'Kind of run ', made('select', { name: 'kind' }, ...kinds.map(word => option(word, capture.kind, word === 'unknown' ? 'let it be recognised' : word.replaceAll('_', ' '))))),
      number('carriage', 'Carriage place y, mm from the middle towards B ', capture.carriage_y_m === null ? '' : 1000 * capture.carriage_y_m),
      number('payload', 'Payload, kg ', capture.payload_kg),
      made('button', { type: 'submit' }, 'Keep this answer'), words);
    form.onsubmit = event => { event.preventDefault(); keepColumns(capture, form, words); };
    holder.replaceChildren(form);
    form.querySelector('select').focus();
  } catch (error) { holder.replaceChildren(made('p', {}, error.message)); }
}

async function keepColumns(capture, form, words) {
  const given = new FormData(form);
  const number = (name, scale) => given.get(name).trim() === '' ? undefined : Number(given.get(name).replace(',', '.')) * scale;
  const answer = { file: capture.file, seen: capture.seen, kind: given.get('kind'), carriage_y_m: number('carriage', 1e-3), payload_kg: number('payload', 1),
    columns: capture.columns.map((_, i) => `${given.get(`role-${i}`)} ${given.get(`unit-${i}`)}`.trim()) };
  if (Number.isNaN(answer.carriage_y_m) || Number.isNaN(answer.payload_kg)) { words.textContent = 'Carriage place and payload are numbers, or stay empty.'; return; }
  try {
    await post('/columns', answer);
    at('columns').replaceChildren(made('p', {}, `Kept in recordings.toml; ${capture.file} is looked at anew.`));
  } catch (error) {
    words.textContent = error.message;
    if (error.status !== 409) return;
    capture.seen = (await ask(`/ask/capture?file=${encodeURIComponent(capture.file)}`)).seen;
    words.textContent = 'recordings.toml was changed meanwhile; nothing was written. Keep this answer once more if it still holds.';
  }
}

export function showQuestions() {
  const unread = (state.job.result.stations.recordings ? state.job.result.stations.recordings.findings : []).filter(finding => finding.id.startsWith('unread_'));
  at('questions').replaceChildren(...unread.map(finding => made('li', { className: 'finding attention' },
    made('p', {}, finding.text), button(`Say what is in ${finding.recording}`, () => askColumns(finding.recording)))));
}

export function beginTexts() {
  at('text-name').onchange = chooseText;
  at('text-read').onclick = readText;
  at('text-back').onclick = putBack;
  addEventListener('beforeunload', event => { if (unkept() || drafts.size) event.preventDefault(); });
  at('text-keep').onclick = keepText;
  at('texts-part').ontoggle = () => { if (at('texts-part').open && !open) readText(); };
  at('what-is-it').onclick = () => { if (at('recording').value) askColumns(at('recording').value); };
}
