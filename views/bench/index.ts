import type { Show } from '../common/show.ts';
import { html, type SafeHtml } from '../html.ts';
import { page } from '../layout.ts';

/** What can be found out at the bench: whether to strip, which metal it is, which grade. */
export const benchPage = (show: Show): SafeHtml =>
  page({
    title: 'Bench',
    show,
    body: html`<h1>Bench</h1>
<dl class="doors">
  <div><dt><a href="/bench/grades">Telling grades apart</a></dt><dd>Magnet, file, colour and weight in hand, and how each grade is told.</dd></div>
  <div><dt><a href="/bench/wire">Strip or sell</a></dt><dd>What a wire brings bare, beside what it brings as it is.</dd></div>
  <div><dt><a href="/bench/metal">Which metal</a></dt><dd>Weigh a piece dry and hanging in water; see what it may be.</dd></div>
  <div><dt><a href="/bench/stripping">Strip a lot</a></dt><dd>Write down wire that was stripped: its metal goes into another bin.</dd></div>
  <div><dt><a href="/bench/wire/kinds">Kinds of wire</a></dt><dd>Samples of each, weighed before and after.</dd></div>
  <div><dt><a href="/setup/cautions">Cautions</a></dt><dd>What can hurt, the usual precautions, and where they are published.</dd></div>
</dl>`,
  });
