import { expect, test } from 'vitest';
import { html, SafeHtml } from '../../views/html.ts';

const typed = `<script>alert("1")</script> & 'more'`;
const escaped = '&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; &amp; &#39;more&#39;';

test('whatever stands in a place of a template is escaped, in text and in a quoted attribute', () => {
  expect(String(html`<p title="${typed}">${typed}</p>`)).toBe(`<p title="${escaped}">${escaped}</p>`);
  expect(String(html`${typed}`)).toBe(escaped);
});

test('what the tag wrote itself goes in as it is, also from a list and from a list of lists', () => {
  const item = html`<li>${'a & b'}</li>`;
  expect(String(html`<ul>${item}${[item, [item, 'c < d']]}</ul>`)).toBe(
    `<ul>${'<li>a &amp; b</li>'.repeat(3)}c &lt; d</ul>`,
  );
});

test('nothing is written for null and undefined; figures and truth values are written out', () => {
  expect(String(html`[${null}${undefined}${[]}${''}]${0}${-1.5}${false}`)).toBe('[]0-1.5false');
});

test('an object that only claims to be HTML is escaped', () => {
  const pretended = { toString: () => '<b>' } as unknown as SafeHtml;
  expect(() => String(html`${pretended}`)).toThrow();
  expect(String(html`${String(pretended)}`)).toBe('&lt;b&gt;');
  expect(html`x`).toBeInstanceOf(SafeHtml);
});
