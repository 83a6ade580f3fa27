// Commands to the virtual pair: which go to which side in which state, and what a wrong one would do.
import { at, button, made, post, state } from './kit.js';
import { showVirtual } from './trace.js';

let given = [];

const goesWords = (goes, commanding) => ({ both: 'to both', either: 'to either', refused: 'refused now', 'commanding side': `to ${commanding} alone` })[goes] || goes;

function seenPart(seen) {
  const part = made('li', { className: `finding ${seen.right ? 'pass' : seen.consequence && seen.consequence.beyond ? 'stop' : 'attention'}` },
    made('p', {}, made('strong', {}, `${seen.operation} to ${seen.sides}: ${seen.right ? 'right' : 'wrong'}`), ` (${seen.before} → ${seen.after})`),
    made('p', {}, seen.text));
  const done = seen.consequence;
  if (done) {
    part.append(made('p', {}, `To one side alone on this machine: ${done.words}.${done.beyond ? ' More than guides or mountings take.' : ''} ${done.what}`));
    if (done.channels.length) part.append(button('Play what would happen', () => showVirtual(`${seen.operation} to ${seen.sides}`, done)));
  }
  return part;
}

export async function showSession() {
  try {
    const session = await post('/ask/session', { commands: given });
    at('pair-state').textContent = `The virtual pair is ${session.state}. Drive A: ${session.drive_a}; drive B: ${session.drive_b}; axis: ${session.axis}. Commanding side: ${session.commanding_side}.`;
    at('commands').replaceChildren(...session.possible.map(one => {
      const give = button('', () => {
        given.push({ operation: one.operation, sides: document.querySelector('input[name=sides]:checked').value });
        showSession();
      });
      give.append(made('span', {}, one.operation), made('span', { className: 'quiet' }, goesWords(one.goes, session.commanding_side)));
      give.title = one.reason;
      return made('li', {}, give);
    }));
    at('given').replaceChildren(...session.commands.map(seenPart).reverse());
    at('assumed').textContent = session.fitted ? 'Computed on the fitted machine.' : `Computed on the machine as the papers give it. ${session.assumed.join(' ')}`;
  } catch (error) { at('pair-state').textContent = error.message; }
}

export function beginSession() {
  at('session-new').onclick = () => { given = []; showSession(); };
}
