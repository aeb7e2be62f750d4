// Enter moves on as a till does: to the next empty-or-not field, and sends the form from the last one.
document.addEventListener('keydown', (event) => {
  const field = event.target;
  if (event.key !== 'Enter' || !field.matches('input:not([type=checkbox]), select')) return;
  const form = field.closest('form[data-till]');
  if (!form) return;
  // What is in closed details has a box but is not visible; a unit that is right as a rule asks to be passed over, and
  // of several radio buttons one is enough.
  const fields = 'input:not([type=hidden], [type=checkbox], [type=radio]), select';
  const stops = [...form.querySelectorAll(fields)].filter((stop) => stop.checkVisibility() && !stop.disabled);
  const next = stops.find((stop) => !stop.matches('[data-till-skip]') && field.compareDocumentPosition(stop) & 4);
  if (!next) return;
  event.preventDefault();
  next.focus();
  if (next instanceof HTMLInputElement) next.select();
});
