import type { Browser } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { newLedger, setUpWorkedExample } from '../helper.ts';
import { readQr } from '../qr.ts';
import { faultsEverywhere } from './checker.ts';
import { DESK, findChromium, launch, openPage, PHONE, type Site, serve } from './chromium.ts';

import { overflow, smallTargets } from './probes.ts';

const executable = findChromium();
const PASSPHRASE = 'rope lantern gravel tuesday';

describe.skipIf(executable === null)('a household opens its ledger to a phone', () => {
  let browser: Browser;
  let site: Site;
  beforeAll(async () => {
    browser = await launch(executable as string);
    const ledger = newLedger();
    setUpWorkedExample(ledger);
    site = await serve(ledger.db, { passphraseHash: null });
  });
  afterAll(async () => {
    await browser?.close();
    await site?.close();
  });

  test('from no passphrase to the first page on the phone, by the code on the screen', async () => {
    const faults: string[] = [];
    const computer = await openPage(await browser.newContext({ viewport: DESK }), faults);
    const phone = await openPage(await browser.newContext({ viewport: PHONE, hasTouch: true, isMobile: true }), faults);
    const beganMs = performance.now();
    let presses = 0;
    const press = async (selector: string) => {
      presses += 1;
      await Promise.all([computer.waitForEvent('load'), computer.click(selector)]);
    };

    await computer.goto(site.ownAddress);
    await press('nav >> text=Set-up');
    await press('dl.doors >> text=Devices');
    await computer.fill('[name=passphrase]', PASSPHRASE);
    await computer.fill('[name=again]', PASSPHRASE);
    await press('form[action="/setup/devices/passphrase"] button');
    await press('text=Pair a phone');
    const url = (await readQr(await computer.screenshot())) ?? '';
    expect(url).toContain('/pair/');

    await phone.goto(url);
    await Promise.all([phone.waitForEvent('load'), phone.tap('text=Pair it')]);
    expect(new URL(phone.url()).pathname).toBe('/');
    expect(new URL(phone.url()).hostname).not.toBe('127.0.0.1');
    expect(await phone.textContent('h1')).toBe('In the bins');
    await computer.waitForSelector('text=is paired.');

    const seconds = (performance.now() - beganMs) / 1000;
    console.log(
      `pairing: ${presses} clicks at the computer, 1 tap on the phone, ${seconds.toFixed(1)} s beside the typing`,
    );
    expect(faults).toEqual([]);
  });

  test('every page at the door can be read and worked by everyone, on a phone and a desk, in the light and the dark', async () => {
    const ledger = newLedger();
    setUpWorkedExample(ledger);
    const closed = await serve(ledger.db, { passphraseHash: null });
    const context = await browser.newContext({ viewport: PHONE, bypassCSP: true });
    const page = await context.newPage();
    const found: string[] = [];
    const look = async (name: string) => {
      found.push(...(await faultsEverywhere(page)).map((fault) => `${name}, ${fault}`));
      await page.setViewportSize({ width: 320, height: 700 });
      if ((await overflow(page)) > 0) found.push(`${name} is wider than 320 px`);
      found.push(...(await smallTargets(page, 44)).map((fault) => `${name}: ${fault}`));
    };
    const send = async (selector: string) => {
      await Promise.all([page.waitForEvent('load'), page.click(selector)]);
    };
    await page.goto(`${closed.ownAddress}/setup/devices`);
    await look('before there is a passphrase');
    await send('form[action="/setup/devices/passphrase"] button');
    await look('a passphrase that is too short');
    await page.fill('[name=passphrase]', PASSPHRASE);
    await page.fill('[name=again]', PASSPHRASE);
    await send('form[action="/setup/devices/passphrase"] button');
    await send('text=Pair a phone');
    await look('the code');
    const code = new URL((await readQr(await page.locator('.qr').screenshot())) ?? '').pathname;
    await page.goto(`${closed.address}/sign-in`);
    await look('the sign-in');
    await send('form button');
    await look('an empty sign-in');
    await page.goto(closed.address + code);
    await look('the phone’s side');
    await send('text=Pair it');
    await page.goto(`${closed.address}/setup/devices`);
    await look('the devices');
    await page.evaluate("document.querySelector('[name=formToken]').value = 'of an older page'");
    await page.evaluate("document.querySelector('details').open = true");
    await send('form[action$="/name"] button');
    await look('send it once more');
    await context.clearCookies();
    await page.goto(closed.address + code);
    await look('a spent code');
    await context.close();
    await closed.close();
    expect(found).toEqual([]);
  }, 120_000);

  test('a phone with neither code nor passphrase sees the way in and nothing else; with it, the page it wanted', async () => {
    const faults: string[] = [];
    const phone = await openPage(await browser.newContext({ viewport: PHONE, hasTouch: true, isMobile: true }), faults);
    await phone.goto(`${site.address}/weigh-in?bin=CU2`);
    expect(await phone.textContent('body')).not.toContain('CU2');
    await phone.fill('[name=passphrase]', 'not this one at all');
    await Promise.all([phone.waitForEvent('load'), phone.tap('form button')]);
    expect(await phone.textContent('main')).toContain('This is not the passphrase');
    await phone.fill('[name=passphrase]', PASSPHRASE);
    await phone.fill('[name=device]', 'Garage phone');
    await Promise.all([phone.waitForEvent('load'), phone.tap('form button')]);
    expect(phone.url()).toBe(`${site.address}/weigh-in?bin=CU2`);
    expect(faults).toEqual([]);
  });
});
