import { encode } from 'uqr';
import { html, type SafeHtml } from '../html.ts';

/** The light margin around a QR code, in modules, as ISO/IEC 18004 asks for. */
const QUIET_ZONE = 4;

/**
 * A text as a QR code, dark on white in every light, one path of whole modules.
 * @param name what it is, for those who cannot see it
 */
export function qrCode(text: string, name: string): SafeHtml {
  const { data, size } = encode(text, { ecc: 'M', border: QUIET_ZONE });
  const path = data
    .flatMap((row, y) => runsOf(row).map(([x, length]) => `M${x} ${y}h${length}v1h-${length}z`))
    .join('');
  return html`<svg class="qr" viewBox="0 0 ${size} ${size}" role="img" aria-label="${name}" shape-rendering="crispEdges">
  <rect width="${size}" height="${size}" fill="#fff"></rect><path d="${path}" fill="#000"></path>
</svg>`;
}

/** Where dark modules follow each other in a row: begin and length. */
function runsOf(row: readonly boolean[]): [x: number, length: number][] {
  const runs: [x: number, length: number][] = [];
  for (const [x, isDark] of row.entries()) {
    const last = runs.at(-1);
    if (!isDark) continue;
    if (last !== undefined && last[0] + last[1] === x) last[1] += 1;
    else runs.push([x, 1]);
  }
  return runs;
}
