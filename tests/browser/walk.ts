import { expect } from 'vitest';
import { phonePhoto } from '../pictures.ts';
import type { Hands } from './hands.ts';

// The main job as a new user does it, from the empty ledger to the reconciled ticket. Figures: the worked example,
// invented. Prices are seen and material is loaded and sold on one day, the day of the tests' clock.

export const NORTH = 'Demo Yard North';

/** Sets up grades, bins, a container, a scale and two yards. */
export async function setUp(hands: Hands, address: string): Promise<void> {
  const { page } = hands;
  await page.goto(address);
  await hands.press('form[action="/starter-list"] button');
  await page.goto(`${address}/setup/bins`);
  for (const [code, grade] of [
    ['CU2', 'No. 2 copper'],
    ['WLO', 'Insulated wire, low recovery'],
    ['YB1', 'Yellow brass'],
    ['YB2', 'Yellow brass'],
    ['FE1', 'Shreddable steel'],
  ] as const) {
    await hands.type('[name=code]', code);
    await hands.choose('[name=grade]', grade);
    await hands.press('form[action="/setup/bins"] button.primary');
    expect(await page.textContent('main')).toContain(`${code} is added`);
  }
  await page.goto(`${address}/setup/containers`);
  await hands.type('[name=name]', 'blue tub');
  await hands.type('[name=tare]', '2.00');
  await hands.press('form[action="/setup/containers"] button.primary');
  await page.goto(`${address}/setup/scales`);
  await hands.type('[name=name]', 'bench scale');
  await hands.type('[name=division]', '0.05');
  await hands.type('[name=tolerance]', '0.1');
  await hands.press('form[action="/setup/scales"] button.primary');
  for (const [yard, step] of [
    [NORTH, '0.05'],
    ['Demo Yard South', '0.01'],
  ] as const) {
    await page.goto(`${address}/setup/yards`);
    await hands.type('[name=name]', yard);
    await hands.type('[name=cashStep]', step);
    await hands.type('[name=scaleDivision]', '0.5');
    await hands.choose('[name=scaleClass]', 'Class III');
    await hands.press('form[action="/setup/yards"] button.primary');
  }
}

/** Puts a known weight on the scale and writes down what it shows. */
export async function checkScale(hands: Hands, address: string): Promise<void> {
  const { page } = hands;
  await page.goto(`${address}/setup/scales/1`);
  await hands.type('[name=weight]', '20');
  await hands.type('[name=reading]', '20.05');
  await hands.press('form[action="/setup/scales/1/checks"] button.primary');
  expect(await page.textContent('main')).toContain('0.05 lb too high');
}

/** Types the whole price board of the north yard. */
export async function writePrices(hands: Hands, address: string): Promise<void> {
  const { page } = hands;
  await page.goto(`${address}/prices/board?yard=1`);
  // Light copper has no bin, so it stands among the other grades, which are folded away.
  await page.evaluate("for (const part of document.querySelectorAll('details')) part.open = true");
  for (const [grade, price] of [
    ['No. 2 copper', '3.60'],
    ['Insulated wire, low recovery', '1.10'],
    ['Yellow brass', '2.45'],
    ['Shreddable steel', '190'],
    ['Light copper', '3.30'],
  ] as const) {
    const name = await page.getByLabel(grade, { exact: true }).getAttribute('name');
    await hands.type(`[name="${name}"]`, price);
  }
  await hands.press('form[action="/prices/boards"] button.primary');
}

/** Weighs in the six weighings of the example, one wrong one first that is taken back. */
export async function weighIn(hands: Hands, address: string): Promise<void> {
  const { page } = hands;
  const once = async (bin: string, gross: string, container: string) => {
    await page.goto(`${address}/weigh-in?bin=${bin}`);
    await hands.type('[name=gross]', gross);
    await hands.choose('[name=container]', container);
    await hands.press('form.bench button.primary');
  };
  await once('CU2', '334.5', 'blue tub (2.00 lb)');
  await hands.press('.recent button >> nth=0');
  await once('CU2', '33.45', 'blue tub (2.00 lb)');
  expect(await page.textContent('.saved')).toContain('31.45 lb added. CU2 now holds');
  await once('CU2', '31.95', 'blue tub (2.00 lb)');
  await once('WLO', '50.25', 'blue tub (2.00 lb)');
  await once('YB1', '39.80', 'blue tub (2.00 lb)');
  await once('YB2', '24.65', 'blue tub (2.00 lb)');
  await once('FE1', '212', 'None');
  await page.goto(address);
  expect(await page.textContent('main')).toContain('$442.36');
}

/** Drafts a manifest of all bins and loads it at book weight. */
export async function loadAll(hands: Hands, address: string): Promise<void> {
  const { page } = hands;
  await page.goto(`${address}/manifests/new?yard=1`);
  for (const value of [1, 2, 3, 4, 5]) await hands.tick(`[name=bins][value="${value}"]`);
  await hands.press('main form button.primary');
  await hands.press('button[formaction$="/loading"]');
  expect(await page.textContent('main')).toContain('$442.36');
}

/** Enters the ticket of the example, a split line and a joined one among its five, checks it, and saves it. */
export async function enterTicket(hands: Hands, address: string): Promise<void> {
  const { page } = hands;
  await page.goto(`${address}/tickets/new?manifest=1`);
  await hands.type('[name=number]', '70011');
  await hands.swap('button[name=change][value="split:1"]');
  await hands.swap('button[name=change][value="join:5"]');
  const lines: [gross: string, tare: string, deduction: string, price: string, amount: string][] = [
    ['54.0', '3.5', '', '3.60', '181.80'],
    ['10.5', '', '', '3.20', '33.60'],
    ['48.0', '', '1.0', '1.05', '49.35'],
    ['63.0', '3.0', '', '2.45', '147.00'],
    ['220', '', '11', '180', '18.81'],
  ];
  for (const [index, [gross, tare, deduction, price, amount]] of lines.entries()) {
    const at = index + 1;
    await hands.type(`[name=gross-${at}]`, gross);
    if (tare) await hands.type(`[name=tare-${at}]`, tare);
    if (deduction) await hands.type(`[name=deduction-${at}]`, deduction);
    await hands.type(`[name=price-${at}]`, price);
    await hands.type(`[name=amount-${at}]`, amount);
  }
  await hands.choose('[name=paidAs-2]', 'Light copper');
  await hands.type('[name=charges]', '2.00');
  await hands.type('[name=cashRounding]', '-0.01');
  await hands.type('[name=total]', '428.55');
  await hands.press('main form .acts button.primary');
  expect(await page.textContent('main')).toContain('428.55');
  await hands.press('main form button.primary');
  expect(new URL(page.url()).pathname).toBe('/tickets/1');
}

/** Keeps the photo of the ticket with it. */
export async function keepPhoto(hands: Hands): Promise<void> {
  const { page } = hands;
  await hands.tick('#photos summary');
  await page.setInputFiles('#f-photo-photos', {
    name: 'IMG_1.jpg',
    mimeType: 'image/jpeg',
    buffer: await phonePhoto(),
  });
  await hands.press('#photos form button');
  expect(await page.locator('.photos img').count()).toBe(1);
}

/** Finds the ticket by its number, and in the trail what was done with it. */
export async function findAgain(hands: Hands, address: string): Promise<void> {
  const { page } = hands;
  await page.goto(`${address}/find`);
  await hands.type('#find-q', '70011');
  await hands.press('main form button');
  await hands.press('main a[href="/tickets/1"]');
  await hands.press('a[href="/trail?document=ticket-1"]');
  const text = await page.textContent('main');
  for (const said of ['Entered a ticket', 'Kept a photo with a ticket']) expect(text).toContain(said);
}

/** Asks for a tag of every bin. */
export async function printTags(hands: Hands, address: string): Promise<void> {
  const { page } = hands;
  await page.goto(`${address}/setup/bins`);
  await hands.press('a[href^="/setup/tags"] >> nth=0');
  expect(await page.locator('.hang-tag').count()).toBe(5);
}

/** What it must say of the scales: all but the steel, which the yard weighed 8 lb above home. */
export const VERDICTS = ['the two scales can explain this', 'more than the two scales can explain'];
/** What the reconciled ticket of the example must say: its effects to the cent. */
export const EFFECTS = ['$442.36', '−$2.06', '−$2.15', '−$3.15', '−$4.45', '+$0.01', '−$2.00', '−$0.01', '$428.55'];
