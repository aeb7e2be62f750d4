// A form goes out once, and only when Tarebook answers: a browser that gets no answer would leave the page, and what was
// typed with it.
const LONGEST_WAIT_MS = 4000;
const NO_CONNECTION =
  'No connection to Tarebook. Nothing was saved yet; what you typed is still here. Tap again when this device is back on the home network.';

async function isReachable() {
  try {
    const answer = await fetch('/health', { cache: 'no-store', signal: AbortSignal.timeout(LONGEST_WAIT_MS) });
    return answer.ok;
  } catch {
    return false;
  }
}

/** Says below the button that was tapped that nothing answered; for Enter, below the button that sends the form. */
function sayNoConnection(form, button) {
  const seen = (each) => each && !each.matches('.away') && each.checkVisibility();
  const beside = seen(button) ? button : [...form.querySelectorAll('button:not([type=button])')].filter(seen).at(-1);
  const alert = document.createElement('p');
  alert.className = 'problem no-connection';
  alert.setAttribute('role', 'alert');
  // Below the button, which so stays where the thumb is.
  if (beside) beside.after(alert);
  else form.append(alert);
  alert.textContent = NO_CONNECTION;
  alert.scrollIntoView({ block: 'nearest' });
}

const takeBackNoConnection = () => {
  for (const alert of document.querySelectorAll('.no-connection')) alert.remove();
};

// Back on the network it would only mislead.
window.addEventListener('online', takeBackNoConnection);

async function sendWhenReachable(form, button) {
  form.dataset.sending = 'asking';
  takeBackNoConnection();
  const answers = await isReachable();
  if (button && button.form !== form) {
    // The part of the page with this button was put in anew meanwhile: another tap finds the new one.
    delete form.dataset.sending;
  } else if (answers) {
    form.dataset.sending = 'answered';
    form.requestSubmit(button);
  } else {
    delete form.dataset.sending;
    sayNoConnection(form, button);
  }
}

document.addEventListener('submit', (event) => {
  const { target: form, submitter: button } = event;
  if (event.defaultPrevented) return;
  const isPost = (button?.getAttribute('formmethod') ?? form.method) === 'post';
  if (isPost && !form.dataset.sending) {
    event.preventDefault();
    sendWhenReachable(form, button);
  } else if (form.dataset.sending && form.dataset.sending !== 'answered') {
    // A second tap on a button that is already sending does nothing.
    event.preventDefault();
  } else {
    form.dataset.sending = 'sent';
    if (isPost) document.dispatchEvent(new CustomEvent('tarebook:sent', { detail: { form } }));
  }
});
window.addEventListener('pageshow', () => {
  for (const form of document.querySelectorAll('form[data-sending]')) delete form.dataset.sending;
});

// A button that changes just a part of the page. What is asked for while typing says nothing of it either way.
const buttonOf = ({ detail }) => {
  const source = detail.ctx?.sourceElement;
  return source?.matches('button') && source.form ? source : null;
};
document.addEventListener('htmx:before:request', (event) => {
  if (buttonOf(event)) takeBackNoConnection();
});
document.addEventListener('htmx:error', (event) => {
  const button = buttonOf(event);
  if (button) sayNoConnection(button.form, button);
});
