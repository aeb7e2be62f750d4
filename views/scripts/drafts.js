// What is typed into a long form (data-draft) is kept on this device until it is saved: a battery dies, a phone is put
// away. Coming back, the person is asked; nothing is ever put over what the page shows by itself.
const PREFIX = 'tarebook-draft';
const SAVING = 'tarebook-draft-saving';
const LONGEST = 100_000;
const MOST_OF_ONE_FORM = 2;
const OLD_MS = 60 * 24 * 3600 * 1000;
const PAUSE_MS = 300;
/** Belongs to the page, not to what was typed. */
const NOT_KEPT = ['requestKey', 'formToken', 'change'];

const formWithDraft = () => document.querySelector('form[data-draft]');
const fieldsOf = (form) =>
  [...new FormData(form)].filter(([name, value]) => !NOT_KEPT.includes(name) && typeof value === 'string');
const sameText = (fields) => JSON.stringify([...fields].sort());

/** Runs what needs the storage of the device. Full or blocked, as in a private window, it simply keeps nothing. */
function quietly(act) {
  try {
    return act();
  } catch {
    return null;
  }
}

const isDraft = (draft) => typeof draft?.at === 'number' && Array.isArray(draft.fields);

/** The drafts on this device whose names begin so, newest first; what is no draft or is old is cleared away. */
function draftsBelow(start) {
  const names = Object.keys(localStorage).filter((name) => name.startsWith(`${start}:`));
  const drafts = names.map((name) => ({ name, ...quietly(() => JSON.parse(localStorage.getItem(name))) }));
  const isGood = (draft) => isDraft(draft) && Date.now() - draft.at < OLD_MS;
  for (const { name } of drafts.filter((draft) => !isGood(draft))) localStorage.removeItem(name);
  return drafts.filter(isGood).sort((a, b) => b.at - a.at);
}

// Each time that a form is begun anew it is a draft of its own, so that a second one never runs over the first. The tab
// remembers which one it is writing, from the form to the check page and back.
const startOf = (form) => `${PREFIX}:${form.dataset.draft}`;
const ownName = (start) => quietly(() => sessionStorage.getItem(start));
const setOwnName = (start, name) => quietly(() => sessionStorage.setItem(start, name));

let asOpened = '';
let hasNews = false;

function keep() {
  // A form that Back brings up again as it was sent is not typed anew.
  if (!hasNews) return;
  hasNews = false;
  const form = formWithDraft();
  if (!form) return;
  const start = startOf(form);
  const fields = fieldsOf(form);
  if (sameText(fields) === asOpened) return;
  const name = ownName(start) ?? `${start}:${Date.now().toString(36)}`;
  const text = JSON.stringify({ at: Date.now(), fields });
  if (text.length > LONGEST) return;
  quietly(() => {
    localStorage.setItem(name, text);
    setOwnName(start, name);
    for (const draft of draftsBelow(start).slice(MOST_OF_ONE_FORM)) localStorage.removeItem(draft.name);
  });
}

let pause = 0;
function keepSoon() {
  hasNews = true;
  clearTimeout(pause);
  pause = setTimeout(keep, PAUSE_MS);
}

const whenText = (at) => {
  const when = new Date(at);
  const month = when.toLocaleString('en', { month: 'short' });
  const two = (count) => String(count).padStart(2, '0');
  return `${when.getDate()} ${month}, ${two(when.getHours())}:${two(when.getMinutes())}`;
};

function button(text, act) {
  const made = document.createElement('button');
  made.type = 'button';
  made.textContent = text;
  made.addEventListener('click', act);
  return made;
}

const focusFirst = () => formWithDraft()?.querySelector('input:not([type=hidden])')?.focus();

/** The server makes the form anew from what was kept, lines and all; what the draft does not have is emptied. */
async function takeUp(draft, offer) {
  const form = formWithDraft();
  const values = {};
  for (const [name] of fieldsOf(form)) values[name] = '';
  for (const [name, value] of draft.fields) values[name] = values[name] ? `${values[name]}, ${value}` : value;
  clearTimeout(pause);
  await window.htmx.ajax('POST', '/tickets/lines', {
    source: form,
    target: '#ticket-form',
    select: '#ticket-form',
    swap: 'outerHTML',
    values,
  });
  if (form.isConnected) {
    offer.querySelector('span').textContent = 'No connection to Tarebook. What you typed is still on this device. ';
    return;
  }
  setOwnName(startOf(formWithDraft()), draft.name);
  offer.remove();
  focusFirst();
}

function offerDraft() {
  const form = formWithDraft();
  const now = sameText(fieldsOf(form));
  const draft = draftsBelow(startOf(form)).find(({ fields }) => sameText(fields) !== now);
  if (draft === undefined) return;
  const offer = document.createElement('p');
  offer.className = 'saved draft-offer';
  offer.setAttribute('role', 'status');
  const said = document.createElement('span');
  said.textContent = `What you typed on ${whenText(draft.at)} is still on this device. `;
  const leave = () => {
    localStorage.removeItem(draft.name);
    offer.remove();
    offerDraft();
    focusFirst();
  };
  offer.append(
    said,
    button('Go on with it', () => takeUp(draft, offer)),
    button('Start afresh', leave),
  );
  form.before(offer);
}

/** The ticket's page after the check page: it is saved. */
function clearSaved() {
  const start = sessionStorage.getItem(SAVING);
  sessionStorage.removeItem(SAVING);
  if (start === null || !/^\/tickets\/\d+$/.test(location.pathname)) return;
  localStorage.removeItem(ownName(start) ?? '');
  sessionStorage.removeItem(start);
}

document.addEventListener('tarebook:sent', ({ detail: { form } }) => {
  if (form.dataset.draft) keep();
  if (form.dataset.draftSaved) quietly(() => sessionStorage.setItem(SAVING, `${PREFIX}:${form.dataset.draftSaved}`));
});
for (const kind of ['input', 'change']) {
  document.addEventListener(kind, (event) => {
    if (event.target.form?.dataset.draft) keepSoon();
  });
}
document.addEventListener('htmx:after:swap', ({ detail }) => {
  if (detail.ctx?.target?.id === 'ticket-form') keepSoon();
});
window.addEventListener('pagehide', keep);

quietly(clearSaved);
quietly(() => draftsBelow(PREFIX));
if (formWithDraft()) {
  asOpened = sameText(fieldsOf(formWithDraft()));
  if (formWithDraft().hasAttribute('data-draft-new')) {
    quietly(() => sessionStorage.removeItem(startOf(formWithDraft())));
    quietly(offerDraft);
  }
}
