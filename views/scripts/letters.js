// "abc" beside a figure brings up the whole keyboard, and takes it away again.
document.addEventListener('click', (event) => {
  const button = event.target.closest?.('[data-letters]');
  const field = button && document.getElementById(button.dataset.letters);
  if (!field) return;
  field.inputMode = field.inputMode === 'text' ? 'decimal' : 'text';
  field.blur();
  field.focus();
});
