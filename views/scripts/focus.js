// When a part of the page is put in anew, the focus stays where the person was, or goes to the new part: never back to
// the beginning of the page, where a keyboard or a screen reader would have to start again.
let before = null;

const sameField = ({ name, value, tagName }, part) =>
  [...part.querySelectorAll(tagName)].find((each) => name && each.name === name && (!value || each.value === value));

document.addEventListener('htmx:before:swap', () => {
  const { activeElement: active } = document;
  before = active && active !== document.body ? active : null;
});

document.addEventListener('htmx:after:swap', ({ detail }) => {
  if (before === null || before.isConnected) return;
  const { activeElement: active } = document;
  if (active && active !== document.body) return;
  const named = detail.ctx?.target;
  const target = named?.isConnected ? named : document.getElementById(named?.id ?? '');
  const part = target ?? document.querySelector('main');
  const field =
    (before.id && document.getElementById(before.id)) || part.querySelector('[autofocus]') || sameField(before, part);
  if (field) return field.focus();
  // What was there is gone, as a line that was taken off: then on to the sentence that says so.
  const news = part.querySelector('[role=status]:not(:empty)') ?? part;
  news.tabIndex = -1;
  news.focus();
});
