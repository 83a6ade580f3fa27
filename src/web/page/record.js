// Captures dropped on the page, the settings in the controller's words, and the record.
import { ask, at, made, offer, post, state } from './kit.js';
import { showNext } from './work.js';

const largestCapture = 512 * 2 ** 20;
async function take(files) {
  for (const file of files) {
    if (file.size > largestCapture) { at('drop-words').textContent = `${file.name} is larger than the 512 MB that are taken here; put it into the folder recordings/ by hand.`; return; }
    at('drop-words').textContent = `${file.name}: sending`;
    try {
      await ask(`/captures/${encodeURIComponent(file.name)}`, { method: 'PUT', body: file });
      at('drop-words').textContent = `${file.name} is kept; it is being evaluated.`;
    } catch (error) { at('drop-words').textContent = error.message; return; }
  }
}

let forms = [], seen = '';  // seen: which settings these are, for accepting just them
function showForm() {
  const form = forms.find(one => one.form === at('settings-form').value);
  at('settings-text').textContent = form ? form.text : '';
}
export async function showSettings() {
  try {
    const settings = await ask('/ask/settings');
    forms = settings.forms;
    at('settings-lacking').textContent = settings.lacking.join(' ');
    offer(at('settings-form'), forms.map(one => one.form));
    at('settings-row').hidden = !forms.length;
    showForm();
    showAcceptance(settings);
  } catch (error) { at('settings-lacking').textContent = error.message; }
}

function showAcceptance(settings) {
  seen = settings.seen;
  at('accept').hidden = !seen;
  at('accepted').textContent = settings.accepted_by ? `These settings are accepted by ${settings.accepted_by}.`
    : settings.held_by.length ? `Not to be accepted while the stop of ${settings.held_by.join(', ')} is open.`
      : 'Nobody has accepted these settings yet. Accepting keeps them in the record; a person enters them in the controller.';
  at('accept').querySelector('button').disabled = settings.held_by.length > 0;
  if (settings.accepted_by && state.job.next.kind === 'accept_settings') {
    state.job.next = { ...state.job.next, kind: 'nothing', what: `The settings are accepted by ${settings.accepted_by}.` };
    showNext();
  }
}

async function acceptSettings(event) {
  event.preventDefault();
  at('accept-words').textContent = 'writing …';
  try {
    const done = await post('/record', { accept: seen, by: at('accept-by').value });
    at('accept-words').textContent = done.accepted_by ? `Entry ${done.entry}: accepted by ${done.accepted_by}.` : done.remarks.join(' ');
  } catch (error) { at('accept-words').textContent = error.message; }
}

async function copySettings() {
  try {
    await navigator.clipboard.writeText(at('settings-text').textContent);
    at('settings-words').textContent = 'Copied.';
  } catch { at('settings-words').textContent = 'The browser does not allow copying here; mark the text and copy it.'; }
}
function saveSettings() {
  const form = at('settings-form').value, link = made('a', { download: form === 'st' || form === 'search' ? `${form === 'st' ? 'settings' : 'search'}.st` : `settings_${form}.txt` });
  link.href = URL.createObjectURL(new Blob([at('settings-text').textContent], { type: 'text/plain' }));
  link.click();
  URL.revokeObjectURL(link.href);
}

async function keepRecord(event) {
  event.preventDefault();
  at('record-words').textContent = 'writing …';
  try {
    const done = await post('/record', { by: at('by').value });
    at('record-words').textContent = `Entry ${done.entry}; written: ${done.files.join(', ')}. ${done.remarks.join(' ')}`;
  } catch (error) { at('record-words').textContent = error.message; }
}

export function beginRecord() {
  at('files').onchange = () => take(at('files').files);
  const drop = at('drop');
  drop.ondragover = event => { event.preventDefault(); drop.classList.add('over'); };
  drop.ondragleave = () => drop.classList.remove('over');
  drop.ondrop = event => { event.preventDefault(); drop.classList.remove('over'); take(event.dataTransfer.files); };
  at('settings-form').onchange = showForm;
  at('settings-copy').onclick = copySettings;
  at('settings-save').onclick = saveSettings;
  at('record').onsubmit = keepRecord;
  at('accept').onsubmit = acceptSettings;
}
