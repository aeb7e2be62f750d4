// Small conveniences; every page works without them.

// Enter moves on as a till does: to the next empty-or-not field, and sends the form from the last one.
document.addEventListener('keydown', (event) => {
  const field = event.target;
  if (event.key !== 'Enter' || !field.matches('input:not([type=checkbox]), select')) return;
  const form = field.closest('form[data-till]');
  if (!form) return;
  // What is in closed details has a box but is not visible; a unit that is right as a rule asks to be passed over.
  const fields = 'input:not([type=hidden]):not([type=checkbox]), select';
  const stops = [...form.querySelectorAll(fields)].filter((stop) => stop.checkVisibility() && !stop.disabled);
  const next = stops.find((stop) => !stop.matches('[data-till-skip]') && field.compareDocumentPosition(stop) & 4);
  if (!next) return;
  event.preventDefault();
  next.focus();
  if (next instanceof HTMLInputElement) next.select();
});

// A second tap on a button that is already sending does nothing.
document.addEventListener('submit', (event) => {
  const form = event.target;
  if (form.dataset.sending) event.preventDefault();
  form.dataset.sending = '1';
});
window.addEventListener('pageshow', () => {
  for (const form of document.querySelectorAll('form[data-sending]')) delete form.dataset.sending;
});

// "abc" beside a figure brings up the whole keyboard, and takes it away again.
document.addEventListener('click', (event) => {
  const button = event.target.closest?.('[data-letters]');
  const field = button && document.getElementById(button.dataset.letters);
  if (!field) return;
  field.inputMode = field.inputMode === 'text' ? 'decimal' : 'text';
  field.blur();
  field.focus();
});

// "?" shows the keys.
const KEYS = { b: '/', w: '/weigh-in', p: '/prices', m: '/manifests', t: '/tickets', r: '/reports', s: '/setup' };
const KEY_TEXT =
  'b  bins\nw  weigh in\np  prices\nm  manifests\nt  tickets\nr  reports\ns  set-up\n/  find\n\nEnter goes to the next field, and sends from the last one.';

function showKeys() {
  const open = document.querySelector('dialog.keys');
  if (open) return open.close();
  const dialog = document.createElement('dialog');
  dialog.className = 'keys';
  const title = document.createElement('h2');
  title.textContent = 'Keys';
  const list = document.createElement('pre');
  list.textContent = KEY_TEXT;
  const close = document.createElement('button');
  close.textContent = 'Close';
  close.addEventListener('click', () => dialog.close());
  dialog.append(title, list, close);
  dialog.addEventListener('close', () => dialog.remove());
  document.body.append(dialog);
  dialog.showModal();
}

document.addEventListener('keydown', (event) => {
  if (event.ctrlKey || event.metaKey || event.altKey || event.target.closest('input, select, textarea')) return;
  if (event.key === '?') showKeys();
  else if (event.key === '/') {
    event.preventDefault();
    // The field of this page where one is shown, else the page of the search.
    const field = [...document.querySelectorAll('#find-q, [data-find]')].find((each) => each.checkVisibility());
    if (field) field.focus();
    else location.assign('/find');
  } else if (KEYS[event.key]) location.assign(KEYS[event.key]);
});

// Printing needs the script; without it the page says how.
for (const button of document.querySelectorAll('button[data-print]')) {
  button.hidden = false;
  button.addEventListener('click', () => window.print());
  document.querySelector('[data-print-hint]')?.remove();
}
