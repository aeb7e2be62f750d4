import { type FormState, hiddenField, passphraseField, problemSummary, textField } from '../common/form.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

/** Asks a device for the passphrase, once. Says what waits behind it: a page, or a form with what was typed. */
export function signInPage(show: Show, state: FormState): SafeHtml {
  return page({
    title: 'Sign in',
    show,
    body: html`<h1>Sign in</h1>
<p>${state.typed.carried ? 'This device is not signed in any more. What you typed is kept and comes back after this.' : 'Once on this device; it stays signed in.'}</p>
<form method="post" action="/sign-in" class="way">
  ${problemSummary(state)}
  ${hiddenField('to', state.typed.to ?? '')}
  ${hiddenField('carried', state.typed.carried ?? '')}
  ${passphraseField({ name: 'passphrase', label: 'Passphrase', attributes: html`autocomplete="current-password" autofocus` }, state)}
  ${deviceNameField(state)}
  <button class="primary big">Sign in</button>
</form>
<p class="hint">Or pair it by a code from the computer’s screen, under <i>Set-up → Devices</i> there${state.typed.carried ? '; then come back to this page and press the button' : ''}.</p>
<p class="hint">Forgotten? On the computer that Tarebook runs on, in its folder: <code>npm run passphrase</code></p>`,
  });
}

export const deviceNameField = (state: FormState): SafeHtml =>
  textField(
    {
      name: 'device',
      label: 'Name of this device',
      hint: 'Stands in the ledger’s trail beside what is done on it.',
      attributes: html`maxlength="40"`,
    },
    state,
  );

/** What a phone shows when the pairing code was read by its camera. */
export function pairPage(show: Show, code: string, state: FormState): SafeHtml {
  return page({
    title: 'Pair this phone',
    show,
    body: html`<h1>Pair this phone</h1>
<form method="post" action="/pairings" class="way">
  ${problemSummary(state)}
  ${hiddenField('code', code)}
  ${deviceNameField(state)}
  <button class="primary big">Pair it</button>
</form>`,
  });
}

/** What a phone shows when its pairing code is no longer good. */
export function codeSpentPage(show: Show): SafeHtml {
  return page({
    title: 'This code is spent',
    show,
    body: html`<h1>This code is spent</h1>
<p>A pairing code works once, and for five minutes. Make a new one on the computer, under <i>Set-up → Devices</i>, or give
  the passphrase here.</p>
<p class="acts"><a class="button primary" href="/sign-in">Sign in with the passphrase</a></p>`,
  });
}
