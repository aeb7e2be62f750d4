import type { Device, HomeAddress } from '../../server/access/queries.ts';
import { type FormState, passphraseField, problemSummary, requestKeyField } from '../common/form.ts';
import { qrCode } from '../common/qr.ts';
import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';
import { backToSetUp, doneLine } from '../setup/parts.ts';
import { deviceNameField } from './sign-in.ts';

export interface DevicesParts {
  hasPassphrase: boolean;
  isAtThisComputer: boolean;
  isDemo: boolean;
  /** Where phones at home find this computer, the likeliest first. */
  urls: readonly string[];
  /** The one before, when the address has changed and nobody has read it yet. */
  changed: { now: HomeAddress; before: HomeAddress | null } | null;
  devices: readonly Device[];
  /** The device that looks at the page. */
  ownId: number;
  done: string | null;
}

export type DeviceForms = Record<'first' | 'change' | 'name', FormState>;

/** Who gets in: the passphrase, the address for phones, pairing, and the devices that are signed in. */
export function devicesPage(show: Show, parts: DevicesParts, forms: DeviceForms): SafeHtml {
  return page({
    title: 'Devices',
    show,
    body: html`${backToSetUp}<h1>Devices</h1>
${doneLine(parts.done)}
${parts.hasPassphrase ? openToHome(show, parts, forms) : onlyHere(parts, forms.first)}`,
  });
}

function onlyHere({ isAtThisComputer, isDemo }: DevicesParts, state: FormState): SafeHtml {
  return html`<p>Tarebook answers only the computer it runs on. With a passphrase it answers the phones and computers on your home
  network too, each after giving the passphrase once.</p>
${isDemo ? html`<p>The demo ledger stays on this computer.</p>` : isAtThisComputer ? firstForm(state) : html`<p>Set it on that computer, at the address that Tarebook printed there.</p>`}`;
}

const firstForm = (state: FormState) => html`<form method="post" action="/setup/devices/passphrase" class="way">
  <h2>Open it to the home network</h2>
  ${problemSummary(state)}${requestKeyField(state)}
  ${newPassphraseFields(state)}
  ${deviceNameField(state)}
  <button class="primary">Set the passphrase</button>
</form>`;

const newPassphraseFields = (state: FormState) => html`${passphraseField(
  {
    name: 'passphrase',
    label: 'Passphrase',
    hint: 'At least 12 characters. Four or five words that do not belong together are easy to type and hard to guess.',
    attributes: html`autocomplete="new-password"`,
  },
  state,
)}
  ${passphraseField({ name: 'again', label: 'The same once more', attributes: html`autocomplete="new-password"` }, state)}`;

function openToHome(show: Show, parts: DevicesParts, forms: DeviceForms): SafeHtml {
  return html`${parts.changed === null ? null : changedNote(show, parts.changed)}
${parts.isAtThisComputer ? pairing(parts) : html`<p>Another phone is paired at the computer: open <i>Set-up → Devices</i> there.</p>`}
${addresses(parts)}
<h2>Signed in</h2>
${deviceList(show, parts, forms.name)}
${parts.isAtThisComputer ? changeForms(forms.change) : null}`;
}

/** Says that phones and printed tags still know the old address. */
const changedNote = (show: Show, { now, before }: NonNullable<DevicesParts['changed']>) => html`<section class="next"
  aria-labelledby="changed"><h2 id="changed">This computer has another address</h2>
<p>Since ${show.day(now.seen_on)} it is <b>${now.url}/</b>${before === null ? null : html`; before, it was ${before.url}/`}. Open the
  new address on each phone and sign in there once more. Bin tags with the old address in their code have to be printed again.</p>
<p>Most routers can give a computer the same address always; look there for “address reservation”.</p>
<form method="post" action="/setup/devices/address-read">${requestKeyField({ typed: {}, problems: {} })}
  <button>I have read it</button></form>
</section>`;

function addresses({ urls }: DevicesParts): SafeHtml {
  const [first] = urls;
  if (first === undefined) {
    return html`<p>Tarebook listens at no address of the home network at the moment: this computer is on none, or was told to stay off it.
  As soon as there is one it stands here.</p>`;
  }
  return html`<section aria-labelledby="address"><h2 id="address">Address for phones at home</h2>
<div class="home-address">${qrCode(`${first}/`, `The address ${first}/ as a QR code`)}
<div><p><b class="url">${first}/</b></p>
${urls.length > 1 ? html`<p>Or, on another of this computer’s networks: ${urls.slice(1).map((url, index) => html`${index > 0 ? ', ' : ''}<span class="url">${url}/</span>`)}</p>` : null}
<p class="hint">This code only opens the address; the phone is then asked for the passphrase. It has to be on the same
  network, by Wi-Fi as a rule, and not on a guest network.</p></div></div>
</section>`;
}

const pairing = ({ urls }: DevicesParts) =>
  urls.length === 0
    ? null
    : html`<form method="post" action="/setup/devices/pairing">
  <p class="acts"><button class="primary">Pair a phone</button></p>
  <p class="hint">Shows a code for the phone’s camera that lets it in, so that nobody has to type the passphrase there.</p>
</form>`;

function deviceList(show: Show, parts: DevicesParts, naming: FormState): SafeHtml {
  return html`<ul class="rows">${parts.devices.map((device) => deviceRow(show, parts, device, naming))}</ul>`;
}

function deviceRow(show: Show, parts: DevicesParts, device: Device, naming: FormState): SafeHtml {
  const isOwn = device.id === parts.ownId;
  const state = naming.typed.id === String(device.id) ? naming : { typed: { device: device.name }, problems: {} };
  return html`<li><span class="row-main"><b>${device.name}</b>${isOwn ? ' (this one)' : ''}
  <small>${device.let_in_by === 'pairing' ? 'paired by code' : 'signed in with the passphrase'}, last used
    ${show.age(device.seen_on)}</small>
  ${isOwn || parts.isAtThisComputer ? renameForm(device, { ...state, idPrefix: `d${device.id}-` }) : null}</span>
  ${isOwn || parts.isAtThisComputer ? signOutForm(device) : null}
</li>`;
}

const renameForm = (
  device: Device,
  state: FormState,
) => html`<details ${Object.keys(state.problems).length > 0 ? html`open` : null}>
  <summary>Rename</summary><form method="post" action="/setup/devices/${device.id}/name">
  ${problemSummary(state)}${requestKeyField(state)}${deviceNameField(state)}
  <button>Save the name</button></form></details>`;

const signOutForm = (device: Device) => html`<form method="post" action="/setup/devices/${device.id}/sign-out">
  <button aria-label="Sign out ${device.name}">Sign out</button></form>`;

const changeForms = (
  state: FormState,
) => html`<details class="more" ${Object.keys(state.problems).length > 0 ? html`open` : null}>
<summary>Change the passphrase, or take it away</summary>
<form method="post" action="/setup/devices/new-passphrase" class="way">
  <h2>Change the passphrase</h2>
  <p>Every device is signed out and has to give the new one.</p>
  ${problemSummary(state)}${requestKeyField(state)}
  ${passphraseField({ name: 'old', label: 'Passphrase until now', attributes: html`autocomplete="current-password"` }, state)}
  ${newPassphraseFields(state)}
  <button class="primary">Change it</button>
</form>
<form method="post" action="/setup/devices/passphrase/removal" class="way">
  <h2>Answer only this computer again</h2>
  <p>Takes the passphrase away and signs every device out. Nothing in the ledger changes.</p>
  <button>Answer only this computer</button>
</form>
</details>`;

/** The one-time code, large, on the computer's screen. */
export function pairingPage(show: Show, { url, code }: { url: string; code: string }): SafeHtml {
  const address = `${url}/pair/${code}`;
  return page({
    title: 'Pair a phone',
    show,
    body: html`<p class="way-back"><a href="/setup/devices">Devices</a></p><h1>Pair a phone</h1>
<p>Point the phone’s camera at the code and open the page that it offers. The phone has to be on the same home network.</p>
<div class="pairing">${qrCode(address, 'Pairing code for the phone’s camera')}</div>
<p id="pairing-state" role="status" hx-get="/setup/devices/pairing/state" hx-trigger="every 2s" hx-swap="innerHTML">The code works
  once, for five minutes.</p>
<p class="hint">Without a camera: open <span class="url">${url}/</span> on the phone and give the passphrase.</p>`,
  });
}

/** What became of the code so far. */
export const pairingState = (letIn: string | null, isGood: boolean): SafeHtml =>
  letIn !== null
    ? html`<b>${letIn} is paired.</b> <a href="/setup/devices">To the devices</a>`
    : isGood
      ? html`The code works once, for five minutes.`
      : html`The code is spent. <a href="/setup/devices">Make a new one</a>`;
