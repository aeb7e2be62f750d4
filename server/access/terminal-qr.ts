import { encode } from 'uqr';

const QUIET_ZONE = 2;
/** By the upper and the lower of two modules that share one character; light modules are drawn. */
const HALVES = { 'light light': '█', 'light dark': '▀', 'dark light': '▄', 'dark dark': ' ' } as const;
/** White on black whatever colours the terminal has, so that the dark modules are dark. */
const [WHITE_ON_BLACK, AS_BEFORE] = ['\x1b[97;40m', '\x1b[0m'];

/**
 * A text as a QR code in lines of half blocks, two modules high each.
 * @param hasColours whether to set the colours too, which only a terminal understands
 */
export function terminalQr(text: string, hasColours: boolean): string {
  const { data } = encode(text, { ecc: 'L', border: QUIET_ZONE });
  const lines: string[] = [];
  for (let y = 0; y < data.length; y += 2) {
    const shade = (isDark: boolean | undefined) => (isDark ? 'dark' : 'light');
    const line = (data[y] ?? []).map((isDark, x) => HALVES[`${shade(isDark)} ${shade(data[y + 1]?.[x])}`]).join('');
    lines.push(hasColours ? `${WHITE_ON_BLACK}${line}${AS_BEFORE}` : line);
  }
  return lines.join('\n');
}
