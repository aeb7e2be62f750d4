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
