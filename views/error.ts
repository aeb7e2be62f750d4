import type { Show } from './common/show.ts';
import { html, type SafeHtml } from './html.ts';
import { page } from './layout.ts';

export const errorPage = (show: Show, sentence: string): SafeHtml =>
  page({
    title: 'Not done',
    show,
    body: html`<h1>Not done</h1>
<p>${sentence}</p>
<p><a class="button" href="/">To the bins</a></p>`,
  });
