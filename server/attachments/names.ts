/** Longer than this, a name is cut in the middle, so that its beginning and its ending stay. */
const LONGEST_NAME = 80;

/**
 * A file's name as it may be shown and stored: without folders, without characters that cannot be seen or that turn
 * the direction of the text around, and not too long. '' stays ''.
 */
export function cleanName(sent: string): string {
  const base = sent.normalize('NFC').split(/[/\\]/).at(-1) ?? '';
  const seen = base
    .replace(/[\p{C}\p{Zl}\p{Zp}]/gu, '')
    .replace(/\s+/g, ' ')
    .trim();
  const letters = Array.from(seen);
  if (letters.length <= LONGEST_NAME) return seen;
  return [...letters.slice(0, LONGEST_NAME - 20), '…', ...letters.slice(-19)].join('');
}

/** The name a kept file goes out with: a photo is a JPEG by then, whatever it came as. */
export function outgoingName(name: string, content: 'photo' | 'pdf'): string {
  const stem = name.replace(/\.[^.]*$/, '') || (content === 'photo' ? 'photo' : 'paper');
  return `${stem}.${content === 'photo' ? 'jpg' : 'pdf'}`;
}

/** What encodeURIComponent leaves as it is and RFC 8187 does not allow. */
const STRICTLY = /['()*!]/g;
const percent = (sign: string): string => `%${sign.charCodeAt(0).toString(16).toUpperCase()}`;

/** Content-Disposition as RFC 6266 has it: a plain name for every browser, and the whole one by RFC 8187. */
export function disposition(kind: 'inline' | 'attachment', name: string): string {
  const plain = name.replace(/[^\w .-]/g, '_');
  const whole = encodeURIComponent(name).replace(STRICTLY, percent);
  return `${kind}; filename="${plain}"; filename*=UTF-8''${whole}`;
}
