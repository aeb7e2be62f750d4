// Printing needs the script; without it the page says how.
for (const button of document.querySelectorAll('button[data-print]')) {
  button.hidden = false;
  button.addEventListener('click', () => window.print());
  document.querySelector('[data-print-hint]')?.remove();
}
