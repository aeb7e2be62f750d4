// What is asked for while typing is a question, not a post: the keys of the form would only stand in an address.
document.addEventListener('htmx:config:request', ({ detail: { ctx } }) => {
  if (ctx.request.method !== 'GET') return;
  for (const name of ['requestKey', 'formToken']) ctx.request.body.delete(name);
});
