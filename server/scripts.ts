import { readFileSync } from 'node:fs';

/** By concept; each is on its own, and the order matters only where two of them look at the same event. */
const PARTS = ['till', 'bench', 'sending', 'unanswered', 'asking', 'focus', 'drafts', 'letters', 'keys', 'printing'];

const folder = new URL('../views/scripts/', import.meta.url);

/** The small scripts of views/scripts as one, each with its names to itself. */
export function pageScripts(): string {
  const whole = PARTS.map((part) => `(() => {\n${readFileSync(new URL(`${part}.js`, folder), 'utf8')}})();\n`);
  return `// Small conveniences; every page works without them.\n${whole.join('')}`;
}
