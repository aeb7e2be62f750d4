// A bin chosen by a tap folds the others away and goes on to the reading, within the tap itself: a phone brings its
// keypad up for nothing later. The arrow keys choose too, on their way through the bins, and must not be thrown out.
let isTap = false;
document.addEventListener('pointerdown', () => {
  isTap = true;
});
document.addEventListener('keydown', () => {
  isTap = false;
});

document.addEventListener('click', (event) => {
  if (!isTap || !event.target.matches?.('.bins .pick-tag input')) return;
  const picker = event.target.closest('.bins');
  const unfold = picker.querySelector('.other-bins input');
  if (unfold) unfold.checked = false;
  const reading = picker.form.elements.gross;
  reading.focus();
  reading.select();
});

// Enter on "Another bin" unfolds it, as on a button.
document.addEventListener('keydown', (event) => {
  if (event.key !== 'Enter' || !event.target.matches('.other-bins input')) return;
  event.preventDefault();
  event.target.click();
});
