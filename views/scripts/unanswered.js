// The connection can also drop when a form is under way. Then nobody knows whether it was saved: the browser shows its
// own page, and Back may bring up an empty form with a new key, which would post twice. So what was sent is kept until
// the next page comes, and Back fills the same form in again, under the same key.
const KEPT = 'tarebook-sent';
const NO_ANSWER = 'No answer came. What you typed is still here; send it again, and it is saved once.';
/** The token belongs to the page and not to what was typed. */
const isKept = ([name, value]) => name !== 'formToken' && typeof value === 'string';
const postForms = () => [...document.querySelectorAll('form[method=post]')];

document.addEventListener('tarebook:sent', ({ detail: { form } }) => {
  const fields = [...new FormData(form)].filter(isKept);
  const sent = { page: location.href, at: postForms().indexOf(form), action: form.getAttribute('action'), fields };
  try {
    sessionStorage.setItem(KEPT, JSON.stringify(sent));
  } catch {
    // No room, or not allowed: then Back does what the browser makes of it.
  }
});

function takeKept() {
  try {
    const kept = sessionStorage.getItem(KEPT);
    sessionStorage.removeItem(KEPT);
    return JSON.parse(kept);
  } catch {
    return null;
  }
}

function fillIn(form, fields) {
  for (const field of form.elements) {
    const values = fields.filter(([name]) => name === field.name).map(([, value]) => value);
    if (/^(checkbox|radio)$/.test(field.type)) field.checked = values.includes(field.value);
    else if (values.length === 1 && !/^(file|submit|button)$/.test(field.type)) field.value = values[0];
  }
}

const sent = takeKept();
const wayHere = performance.getEntriesByType('navigation')[0]?.type;
const form = sent?.page === location.href && wayHere !== 'navigate' ? postForms()[sent.at] : undefined;
if (form?.getAttribute('action') === sent?.action && form) {
  fillIn(form, sent.fields);
  const said = document.createElement('p');
  said.className = 'saved is-off';
  said.setAttribute('role', 'status');
  said.textContent = NO_ANSWER;
  form.prepend(said);
}
