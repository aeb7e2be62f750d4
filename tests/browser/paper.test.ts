import jsqr from 'jsqr';
import type { Browser, Locator, Page } from 'playwright-core';
import sharp from 'sharp';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { demoToday } from '../../seed/demo.ts';
import { addBin } from '../../server/setup/acts.ts';
import { findGradeByName } from '../../server/setup/queries.ts';
import { day, writeDay } from '../../server/units/day.ts';
import { findChromium, launch, manyAtOnce, openPage, type Site, serve } from './chromium.ts';
import { CROWD, fillCrowded, LONG_YARD, longCode } from './crowded.ts';
import { HOME, type ServedDemo, serveDemo } from './demo.ts';
import { ADDRESSES } from './pages.ts';
import { pagesOf, unspaced } from './pdf.ts';
import { overflow } from './probes.ts';

const executable = findChromium();
const FORMATS = ['Letter', 'A4'] as const;
const PX_PER_MM = 96 / 25.4;
/** What a page holds between the margins of the style sheet, in CSS pixels; those of the sheet and the tags are narrower. */
const insideOf = (format: (typeof FORMATS)[number], address: string): number => {
  const margins = /\/sheet|\/tags/.test(address) ? 24 : 28;
  return Math.floor(((format === 'A4' ? 210 : 215.9) - margins) * PX_PER_MM);
};
/** Home printers do better. */
const PRINTED_DPI = 150;
const PHONE_AT_320 = { viewport: { width: 320, height: 640 }, deviceScaleFactor: 2 };

/** jsqr is one function, which its package hands over wrapped up when it is not bundled. */
const decode = ((jsqr as unknown as { default?: typeof jsqr }).default ?? jsqr) as unknown as (
  pixels: Uint8ClampedArray,
  width: number,
  height: number,
) => { data: string } | null;

/** What a scanner that knows nothing of us reads in a code as it is drawn on the page. */
async function scan(code: Locator): Promise<string | null> {
  const { data, info } = await sharp(await code.screenshot())
    .ensureAlpha()
    .raw()
    .toBuffer({ resolveWithObject: true });
  return decode(new Uint8ClampedArray(data), info.width, info.height)?.data ?? null;
}

/** The bin that each code on the page opens, with the width of the code in millimetres. */
async function scanAll(page: Page): Promise<{ opens: string | null; widthMm: number }[]> {
  const found: { opens: string | null; widthMm: number }[] = [];
  for (const code of await page.locator('.hang-qr svg').all()) {
    const box = await code.boundingBox();
    found.push({ opens: await scan(code), widthMm: (box?.width ?? 0) / PX_PER_MM });
  }
  return found;
}

const opensOf = (codes: readonly string[]): string[] =>
  codes.map((code) => `${HOME}/weigh-in?bin=${encodeURIComponent(code)}`);

const countOf = (text: string, part: string): number => text.split(unspaced(part)).length - 1;

let browser: Browser;
let demo: ServedDemo;
let crowded: Site & ReturnType<typeof fillCrowded>;

describe.skipIf(executable === null)('on paper', () => {
  beforeAll(async () => {
    const filled = fillCrowded();
    const serveCrowded = async () => ({ ...filled, ...(await serve(filled.ledger.db, { homeUrls: () => [HOME] })) });
    [browser, demo, crowded] = await Promise.all([launch(executable as string), serveDemo(), serveCrowded()]);
  });
  afterAll(async () => {
    await browser?.close();
    await demo?.close();
    await crowded?.close();
    crowded?.ledger.db.close();
  });

  /** The words of each page of a print. */
  async function print(url: string, format: (typeof FORMATS)[number]): Promise<string[]> {
    const context = await browser.newContext();
    await demo.admit(context);
    const page = await openPage(context, []);
    await page.goto(url);
    const pdf = await page.pdf({ format });
    await context.close();
    return pagesOf(pdf);
  }

  describe('every page', () => {
    test('has its foot, nothing empty and nothing cut off, on Letter and on A4', async () => {
      const context = await browser.newContext();
      await demo.admit(context);
      const found = await manyAtOnce(ADDRESSES, async (address) => {
        const faults: string[] = [];
        const page = await openPage(context, faults);
        await page.goto(demo.address + address);
        for (const format of FORMATS) {
          const pages = pagesOf(await page.pdf({ format }));
          faults.push(...footFaults(pages).map((fault) => `${format}: ${fault}`));
          await page.emulateMedia({ media: 'print' });
          await page.setViewportSize({ width: insideOf(format, address), height: 900 });
          if ((await overflow(page)) > 0) faults.push(`${format}: is cut off at the right`);
          await page.emulateMedia({ media: null });
        }
        await page.close();
        return faults.map((fault) => `${address} ${fault}`);
      });
      await context.close();
      expect(found.flat()).toEqual([]);
    }, 300_000);

    /** A page holds its foot and something else: the page before it was not full for nothing. */
    function footFaults(pages: readonly string[]): string[] {
      return pages.flatMap((words, at) => {
        const foot = `page${at + 1}of${pages.length}`;
        const printed = unspaced(`printed ${writeDay(demoToday)}`);
        if (!words.includes(foot) || !words.includes(printed)) return [`no ${foot}`];
        const [, below = ''] = words.split(printed);
        return below.length < 5 ? [`page ${at + 1} is empty`] : [];
      });
    }
  });

  describe('a report', () => {
    test('says what it is about and when it was printed', async () => {
      const [first = ''] = await print(`${demo.address}/reports/shrinkage?grade=14&split=yard&from=2025-06`, 'A4');
      expect(first).toContain(unspaced('Yellow brass, each yard apart, Jun 2025 to Mar 2026. Printed 14 Mar 2026.'));
      const [scales = ''] = await print(`${demo.address}/reports/scales`, 'A4');
      expect(scales).toContain(unspaced('Printed 14 Mar 2026.'));
    });

    test('and a list say what they were narrowed to', async () => {
      const [all = ''] = await print(`${demo.address}/tickets`, 'A4');
      const [narrowed = ''] = await print(`${demo.address}/tickets?yard=2`, 'A4');
      expect(all).not.toContain('Yard:');
      expect(narrowed).toContain(unspaced('Yard: Demo Yard South'));
      expect(narrowed).not.toContain(unspaced('Ticket number:'));
    });
  });

  describe('a ticket', () => {
    test('of sixty lines adds up once, at its end', async () => {
      const pages = await print(`${crowded.address}/tickets/${crowded.ticketId}`, 'Letter');
      expect(pages.length).toBeGreaterThan(3);
      expect(countOf(pages.join(''), 'All loads')).toBe(1);
    });
  });

  describe('the sheet', () => {
    const sheetOf = (site: Site, id: number) => `${site.address}/manifests/${id}/sheet`;

    test.for(FORMATS)('of four loads is one page of %s', async (format) => {
      expect(await print(sheetOf(demo, 22), format)).toHaveLength(1);
    });

    test.for(FORMATS)(
      'of sixty loads keeps each load whole, with head and number on each page of %s',
      async (format) => {
        const pages = await print(sheetOf(crowded, crowded.manifestId), format);
        for (const words of pages) expect(words).toContain(unspaced(`Manifest 1, ${LONG_YARD}`));
        const withLoads = pages.filter((words) => words.includes('LONG-CODE'));
        for (const words of withLoads) {
          expect(countOf(words, `Manifest 1 · ${LONG_YARD} · loaded 18 Mar 2025`)).toBe(1);
          expect(countOf(words, 'Query weight lb')).toBe(1);
          const also = countOf(words, 'what, from which load');
          expect(countOf(words, 'yard gross')).toBe(countOf(words, 'LONG-CODE-OF-FORTY-LETTERS-AND-DIGITS-') + also);
        }
        const all = pages.join('');
        for (let n = 0; n < CROWD; n += 1) expect(countOf(all, longCode(n))).toBe(1);
        expect(countOf(all, 'in 60 loads')).toBe(1);
        expect(withLoads[0]).toBe(pages[0]);
      },
    );

    test('of a draft, and of one load, is one page', async () => {
      expect(await print(sheetOf(demo, 25), 'Letter')).toHaveLength(1);
      const site = await serveDemo((db) =>
        db.sqlite.exec("delete from manifest_line where manifest_id = 25 and label > 'A'"),
      );
      expect(await print(sheetOf(site, 25), 'A4')).toHaveLength(1);
      await site.close();
    });
  });

  describe('bin tags', () => {
    test.for(FORMATS)('are six to a page of %s, none split', async (format) => {
      const pages = await print(`${demo.address}/setup/tags`, format);
      const places = ['Shelf', 'Under the bench', 'By the door', 'Back wall', 'Outside corner', 'Floor', 'Dry shelf'];
      const tagsOn = pages.map((words) => places.reduce((sum, place) => sum + countOf(words, place), 0));
      expect(tagsOn).toEqual([6, 6, 4]);
      expect(pages[0]).toMatch(/CU1.*CU2.*WHI.*WLO.*XLT.*YB1/);
    });

    test('of one bin are one page, of none an empty choice, of sixty long ones as many as they need', async () => {
      expect(await print(`${demo.address}/setup/tags?bins=1`, 'A4')).toHaveLength(1);
      expect(await print(`${demo.address}/setup/tags?chosen=bins`, 'A4')).toHaveLength(1);
      const pages = await print(`${crowded.address}/setup/tags`, 'Letter');
      expect(pages).toHaveLength(CROWD / 4);
      for (const words of pages) expect(countOf(words, 'empty 2,00 lb')).toBe(4);
    });

    test('are read back by a scanner from the printed size, each leading to its own bin', async () => {
      const context = await browser.newContext({
        viewport: { width: insideOf('A4', '/setup/tags'), height: 1000 },
        deviceScaleFactor: PRINTED_DPI / 96,
      });
      await demo.admit(context);
      const page = await openPage(context, []);
      await page.goto(`${demo.address}/setup/tags`);
      await page.emulateMedia({ media: 'print' });
      const codes = await page.locator('.hang-code').allTextContents();
      const found = await scanAll(page);
      await context.close();
      expect(codes).toHaveLength(16);
      expect(found.map(({ opens }) => opens)).toEqual(opensOf(codes));
      for (const { widthMm } of found) expect(widthMm).toBeGreaterThanOrEqual(25);
    }, 60_000);

    test('are read back on a small phone, codes of forty letters and codes with signs too', async () => {
      const signs = ['AL/3 &+?', 'ÄÖ#%', '"quoted"'];
      for (const code of signs) addBin(crowded.ledger, tagBin(code));
      const context = await browser.newContext(PHONE_AT_320);
      await demo.admit(context);
      const page = await openPage(context, []);
      const ids = crowded.ledger.db.sqlite.prepare('select id from bin where id <= 2 or id > 60').pluck().all();
      await page.goto(`${crowded.address}/setup/tags?${ids.map((id) => `bins=${id}`).join('&')}`);
      const found = await scanAll(page);
      await page.emulateMedia({ colorScheme: 'dark' });
      const inTheDark = await scanAll(page);
      await context.close();
      const expected = opensOf([longCode(0), longCode(1), ...signs]);
      expect(found.map(({ opens }) => opens)).toEqual(expected);
      expect(inTheDark.map(({ opens }) => opens)).toEqual(expected);
    }, 60_000);

    function tagBin(code: string): Parameters<typeof addBin>[1] {
      const grade = crowded.ledger.db.sqlite.prepare('select name from grade where id = 1').pluck().get() as string;
      return {
        code,
        grade_id: findGradeByName(crowded.ledger.db, grade)?.id ?? 0,
        place: '',
        container_id: null,
        full_mark_typed: '',
        full_mark_ug: null,
        opened_on: day('2025-01-01'),
        closed_on: null,
      };
    }
  });
});
