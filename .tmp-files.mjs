import { chromium } from 'playwright-core';
const out = process.argv[2];
const b = await chromium.launch({ executablePath: '/usr/bin/chromium', args: ['--no-sandbox','--disable-dev-shm-usage'] });
const base = 'http://127.0.0.1:4904';
const loads = 'yard,manifest,loaded_on,load,bin,net,unit,quoted_price,quoted_per\r\nDemo Yard North,W1,2025-03-08,A,CU2,999999.5,lb,3.60,lb\r\nDemo Yard North,W1,2025-03-08,B,YB1,5,lb,,\r\n';
const bad = 'occurred_on,bin,gross,tare,unit,scale,item,note\r\n2025-02-30,CU2,10,1,lb,,,x\r\n2025-03-01,CU9,ten,1,stone,,,\r\n2025-03-01,CU2,2,3,lb,,,a rather long note that goes on and on and on, with commas\r\n'.replace('on, with','on with');
for (const [w, scheme] of [[390,'light'],[1280,'dark'],[1280,'light'],[320,'light']]) {
  const ctx = await b.newContext({ viewport: { width: w, height: 800 }, colorScheme: scheme });
  const p = await ctx.newPage();
  p.on('console', m => m.type()==='error' && console.log('console', m.text()));
  await p.goto(base + '/setup/files'); await p.screenshot({ path: `${out}/files-${w}-${scheme}.png`, fullPage: true });
  const wide = async (name) => { const sw = await p.evaluate(() => document.documentElement.scrollWidth); if (sw > w) console.log('overflow', name, w, sw); };
  await wide('files');
  await p.goto(base + '/import?kind=in-weights'); await p.click('details summary'); await p.screenshot({ path: `${out}/import-${w}-${scheme}.png`, fullPage: true }); await wide('import');
  await p.fill('textarea[name=text]', bad); await p.click('text=Check the file'); await p.waitForLoadState(); await p.screenshot({ path: `${out}/bad-${w}-${scheme}.png`, fullPage: true }); await wide('bad');
  await p.goto(base + '/import?kind=loads'); await p.fill('textarea[name=text]', loads.replace('999999.5','60000.5')); await p.click('text=Check the file'); await p.waitForLoadState(); await p.screenshot({ path: `${out}/good-${w}-${scheme}.png`, fullPage: true }); await wide('good');
  await ctx.close();
}
// a real file through both steps
const p = await b.newPage(); await p.goto(base + '/import?kind=scales');
const { writeFileSync } = await import('node:fs'); writeFileSync(out + '/s.csv', 'name,unit\nbench,lb\n');
await p.setInputFiles('input[type=file]', out + '/s.csv'); await p.click('text=Check the file'); await p.waitForSelector('text=nothing wrong'); await p.click('text=Import it'); await p.waitForSelector('text=1 scale imported'); console.log(p.url());
await b.close();
