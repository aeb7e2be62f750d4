import type { FastifyInstance, FastifyReply, FastifyRequest } from 'fastify';
import {
  type DeviceForms,
  type DevicesParts,
  devicesPage,
  pairingPage,
  pairingState,
} from '../../views/access/devices.ts';
import { statusOf } from '../errors.ts';
import { Reader, type Typed } from '../reading.ts';
import { Refusal } from '../refusal.ts';
import { bodyOf, ledgerOf, paramId, problemsOf, queryOf, sendHtml, showOf, submit, waitForTurn } from '../web.ts';
import { changePassphrase, closeToNetwork, letIn, nameDevice, setFirstPassphrase, signOut } from './acts.ts';
import { type Door, giveToken, nowMsOf } from './door.ts';
import { likelyName, readDeviceName, readNewPassphrase, withoutSecrets } from './forms.ts';
import { hashPassphrase } from './passphrase.ts';
import { lastHomeAddresses, listDevices, readHomeAddresses } from './queries.ts';

const PATH = '/setup/devices';

/** Who gets in: the passphrase, pairing a phone, and the devices that are signed in. */
export async function deviceRoutes(app: FastifyInstance, { door }: { door: Door }): Promise<void> {
  app.addHook('preHandler', waitForTurn);
  app.get(PATH, async (request, reply) => {
    // Somebody may look for the address a moment after the cable was plugged in or the passphrase set.
    await app.tarebook.refreshNetwork();
    return showDevices(request, reply);
  });
  passphraseRoutes(app, door);
  pairingRoutes(app, door);
  signedInRoutes(app);
}

function passphraseRoutes(app: FastifyInstance, door: Door): void {
  app.post(`${PATH}/passphrase`, async (request, reply) => {
    const typed = bodyOf(request);
    try {
      onlyAtThisComputer(request);
      const reader = new Reader(typed, ledgerOf(request).settings);
      const [passphrase, name] = [readNewPassphrase(reader), readDeviceName(reader)];
      reader.done();
      setFirstPassphrase(ledgerOf(request), await hashPassphrase(passphrase));
      giveToken(request, reply, letIn(ledgerOf(request), name, 'passphrase').token);
      return reply.redirect(`${PATH}?done=set`, 303);
    } catch (error) {
      return showDevices(request, reply, { form: 'first', typed, error });
    }
  });

  app.post(`${PATH}/new-passphrase`, async (request, reply) => {
    const typed = bodyOf(request);
    try {
      onlyAtThisComputer(request);
      const reader = new Reader(typed, ledgerOf(request).settings);
      const passphrase = readNewPassphrase(reader);
      reader.done();
      await door.prove(request, reader.raw('old'), 'old');
      const name = request.visitor?.device?.name ?? likelyName(request);
      changePassphrase(ledgerOf(request), await hashPassphrase(passphrase));
      giveToken(request, reply, letIn(ledgerOf(request), name, 'passphrase').token);
      return reply.redirect(`${PATH}?done=changed`, 303);
    } catch (error) {
      return showDevices(request, reply, { form: 'change', typed, error });
    }
  });

  app.post(`${PATH}/passphrase/removal`, (request, reply) => {
    onlyAtThisComputer(request);
    closeToNetwork(ledgerOf(request));
    return reply.redirect(`${PATH}?done=closed`, 303);
  });
}

function pairingRoutes(app: FastifyInstance, door: Door): void {
  app.post(`${PATH}/pairing`, (request, reply) => {
    onlyAtThisComputer(request);
    door.pairing.offer(nowMsOf(request));
    return reply.redirect(`${PATH}/pairing`, 303);
  });

  app.get(`${PATH}/pairing`, async (request, reply) => {
    onlyAtThisComputer(request);
    await app.tarebook.refreshNetwork();
    const current = door.pairing.current(nowMsOf(request));
    const [url] = app.tarebook.homeUrls();
    if (current === null || url === undefined) return reply.redirect(PATH, 303);
    return sendHtml(reply, pairingPage(showOf(request), { url, code: current.code }));
  });

  // Asked for while the code is on the screen, so that it says at once that the phone is in.
  app.get(`${PATH}/pairing/state`, (request, reply) => {
    onlyAtThisComputer(request);
    const isGood = door.pairing.current(nowMsOf(request)) !== null;
    return sendHtml(reply, pairingState(door.pairing.letIn, isGood));
  });
}

function signedInRoutes(app: FastifyInstance): void {
  app.post(`${PATH}/:id/sign-out`, (request, reply) => {
    const isOwn = request.visitor?.device?.id === paramId(request);
    if (!isOwn) onlyAtThisComputer(request);
    signOut(ledgerOf(request), paramId(request));
    return reply.redirect(isOwn ? '/sign-in' : `${PATH}?done=out`, 303);
  });

  app.post(`${PATH}/:id/name`, (request, reply) =>
    submit(request, reply, {
      act(ledger, reader) {
        if (request.visitor?.device?.id !== paramId(request)) onlyAtThisComputer(request);
        const name = readDeviceName(reader);
        reader.done();
        nameDevice(ledger, paramId(request), name);
        return `${PATH}?done=named`;
      },
      again: (_show, typed, problems) =>
        pageOf(request, { name: { typed: { ...typed, id: String(paramId(request)) }, problems } }),
    }),
  );

  app.post(`${PATH}/address-read`, (request, reply) => {
    readHomeAddresses(ledgerOf(request).db);
    return reply.redirect(PATH, 303);
  });
}

/** What decides who gets in is done at the computer itself, so that a lost phone can let nobody in or out. */
function onlyAtThisComputer(request: FastifyRequest): void {
  if (request.server.tarebook.isDemo) {
    throw new Refusal('not_let_in', '', 'The demo ledger stays on this computer, so nobody has to be let in.');
  }
  if (request.visitor?.isAtThisComputer) return;
  throw new Refusal('not_let_in', '', 'This is done on the computer that Tarebook runs on, at its own address.');
}

const DONE: Readonly<Record<string, string>> = {
  set: 'The passphrase is set. The home network is answered from now on.',
  changed: 'The passphrase is changed. Every other device is signed out and asks for the new one.',
  closed: 'Only this computer is answered from now on.',
  out: 'The device is signed out.',
  named: 'The name is saved.',
};

interface Failed {
  form: keyof DeviceForms;
  typed: Typed;
  error: unknown;
}

/** The page as it is, or with the form that failed. */
function showDevices(request: FastifyRequest, reply: FastifyReply, failed?: Failed): FastifyReply {
  if (failed === undefined) return sendHtml(reply, pageOf(request, {}));
  const state = {
    typed: withoutSecrets(failed.typed),
    problems: problemsOf(failed.error),
    idPrefix: `${failed.form}-`,
  };
  return sendHtml(reply, pageOf(request, { [failed.form]: state }), statusOf(failed.error));
}

function pageOf(request: FastifyRequest, forms: Partial<DeviceForms>) {
  const empty = { typed: { device: likelyName(request) }, problems: {} };
  return devicesPage(showOf(request), partsOf(request), {
    first: { ...empty, idPrefix: 'first-' },
    change: { ...empty, idPrefix: 'change-' },
    name: empty,
    ...forms,
  });
}

function partsOf(request: FastifyRequest): DevicesParts {
  const { db } = ledgerOf(request);
  const { isDemo, homeUrls } = request.server.tarebook;
  const [now, before = null] = lastHomeAddresses(db);
  return {
    hasPassphrase: request.visitor?.hasPassphrase === true,
    isAtThisComputer: request.visitor?.isAtThisComputer === true,
    isDemo,
    urls: homeUrls(),
    changed: now === undefined || now.is_read === 1 ? null : { now, before },
    devices: listDevices(db),
    ownId: request.visitor?.device?.id ?? 0,
    done: DONE[queryOf(request).done ?? ''] ?? null,
  };
}
